"""Pieces that several places of the window share: panels, fields, tables, charts, colours, background work."""
