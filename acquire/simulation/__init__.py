"""Simulated sensors, and what they measure.

Nothing is imported here: pseudo-terminals exist on POSIX systems only, the rest everywhere.
"""
