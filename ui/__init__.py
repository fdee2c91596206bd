"""The command line and what it shows: the only floor that prints."""
