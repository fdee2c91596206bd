"""From a stored file to judged trials: what a notebook, a command and the window all start from.

`traces` reads a session file, or a trace as text that it cuts into efforts; `judged` holds a trial with its judgement
under its name in the file; `results` judges every trial of a session and says what the session comes to.

In come paths, sessions and a protocol; out come trials, judgements and a `SessionSummary`.
May import: trial, results, acquire's values and storage, and the trial detector that cuts a live stream too.
"""
