"""The engine of a session, shared by the command line and the window. No Qt, nothing printed.

`open_sensor` finds and opens a sensor, `runner` knows what comes next and `cues` what the person is told, `live` judges
and saves what the recorder cuts, `store` writes the session file, `crash` takes up what a crash left. The sensor check
runs here too (`check_setup`, `check_routine`, `check_run`).

In come plans, recorder events and key presses, with the time as an argument; out come states and events.
May import: the two floors below and `ui.words`.
"""
