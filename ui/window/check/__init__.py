"""The dialog of the sensor check and its pictures."""
