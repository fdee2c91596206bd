"""One module a command, each with `run(options) -> exit code`."""
