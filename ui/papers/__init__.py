"""What leaves the program on paper or as a file: report, audit pages, export, pictures, text tables.

Each is content first (values and sentences), then a layout that decides nothing. Files appear whole or not at all.

In come judged sessions and audits; out come PDF, HTML, CSV, JSON, FHIR and PNG.
May import: model, session, words and the floors below; never a window or a command.
"""
