"""From a stored file to what it comes to: what a notebook, a command and the window all start from.

`traces` reads a session file, or a trace as text that it cuts into efforts; `results` says what a session comes to;
`archive_table` makes a table of every trial of a folder.

In come paths, sessions and a protocol; out come trials, a `SessionSummary`, a table.
May import: trial, results, acquire's values and storage, and the trial detector that cuts a live stream too.
"""
