"""The engine of a session, shared by the command line and the window. No Qt, nothing printed.

`open_sensor` opens a sensor, `find_sensor` finds out by listening what is plugged in. `transitions` is the table of a
session (state, event -> state, action), `engine` follows it, `battery_progress` says what is next and `effort_watch`
what the force does. `live` drives all that from a recorder, judges and saves; `recording` does so until the end or
Ctrl-C. `store` writes the session file, `crash` takes up what a crash left. The sensor check runs here too
(`check_setup`, `check_routine`, `check_run`).

In come plans, recorder events and key presses, with the time as an argument; out come states and events.
May import: the two floors below and `ui.words`.
"""
