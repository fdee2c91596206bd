"""One module a command, each with `run(options) -> exit code`; arguments, prompts and tables for the terminal.

In come parsed options; out come printed lines and an exit code: 0 done, 1 could not do it, 2 wrong usage.
May import: everything; nothing imports this but `ui.cli`.
"""
