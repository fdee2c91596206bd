"""What is handed to other programs: tidy CSV with a dictionary, JSON, and HL7 FHIR."""
