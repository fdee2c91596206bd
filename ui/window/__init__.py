"""The window: thin Qt widgets, one room a place. Qt is imported here only.

`app` starts it, `main_window` holds the four places, `controller` connects them, `help` explains each. A widget shows
a model and holds no truth of its own. `widgets` are the pieces that several places share.

In come models and key presses; out come pixels. May import: everything below it, never `ui.commands`.
"""
