"""How large the measurement error is, and whether a change is beyond it.

`retest` estimates the error from one's own repeated sessions, `published` reads what studies found, `change` holds two
occasions against that error, and `trend` draws a line through three or more.

In come scores; out come errors, changes and trends, or a reason why not. May import: results, statistics.
"""
