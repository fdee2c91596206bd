"""Audit: a folder of sessions, its examiners, charts and findings."""
