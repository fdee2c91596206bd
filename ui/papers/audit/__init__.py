"""The audit on paper and in files: pages of PDF, the coaching sheet, CSV and JSON, and text for the terminal."""
