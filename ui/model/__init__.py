"""What the window shows, without Qt: plain classes that take the time as an argument, one room a place.

In come values of the session and of the analysis; out come rows, marks, charts and sentences that a thin widget shows.
May import: session, words and the floors below; never Qt, never `ui.window`.
"""
