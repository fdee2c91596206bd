"""How large the measurement error is, and whether a change is beyond it.

`retest` estimates the error from one's own repeated sessions, `published` reads what studies found, `change` holds two
occasions against that error, in per cent, and `trend` draws a line through three or more. `side_index` is the error of
a difference between sides from session to session; `important` says what change was found to matter: that is no error.

In come scores; out come errors, changes and trends, or a reason why not. May import: results, statistics.
"""
