"""What is tested, and in which order.

The actions with their positions, placements and cautions (`actions`), the lists of actions that make a battery
(`battery`), and the order that changes position least and lets muscles rest (`ordering`). All three are TOML files that
a user may copy and change.

In come names and files; out come ordered plans. May import: acquire's values and settings files.
"""
