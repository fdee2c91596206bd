"""What is handed to other programs: tidy CSV with a dictionary, JSON, and HL7 FHIR.

The columns are one list, `columns`: a new one is in the table and in its dictionary.
"""
