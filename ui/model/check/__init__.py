"""What the sensor check shows: its fields, its findings in words, its log and its trend."""
