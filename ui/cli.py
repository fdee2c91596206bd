"""The command `ramphold`: 0 done, 1 could not do it and one sentence says why, 2 wrong usage.

3 is an audit that is done and had to leave files out.
"""

from __future__ import annotations

import importlib
import io
import os
import sys
from collections.abc import Sequence

from ui.commands.arguments import build_parser, check_usage

WINDOW = "window"
"""What is run when no command is given."""

COULD_NOT = 1
INTERRUPTED = 130
"""What a shell expects of a program that Ctrl-C ended."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Only the module of the command that is asked for is imported, so that help stays light.
    """
    parser = build_parser()
    options = parser.parse_args(arguments)
    check_usage(parser, options)
    from acquire.errors import AcquireError  # noqa: PLC0415 (help needs no part of the program)
    from acquire.values.outside_text import visible  # noqa: PLC0415
    from analysis.errors import AnalysisError  # noqa: PLC0415

    _write_every_name()
    os.umask(0o077)  # what is recorded of people is for this account alone: files, folders, index, journals
    try:
        command = importlib.import_module(f"ui.commands.{options.command or WINDOW}")
        code = int(command.run(options))
        sys.stdout.flush()  # output that cannot be written is to be told here, not by the interpreter at its end
    except (AcquireError, AnalysisError) as error:
        print(f"ramphold: {visible(str(error))}", file=sys.stderr)
        return COULD_NOT
    except BrokenPipeError:
        # the reader of our output has gone, as `| head` does: say nothing more
        _drop_output()
        return COULD_NOT
    except OSError as error:
        print(f"ramphold: {error.filename or 'the output cannot be written'}: {error.strerror}", file=sys.stderr)
        _drop_output()
        return COULD_NOT
    except KeyboardInterrupt:
        print("ramphold: stopped", file=sys.stderr)
        return INTERRUPTED
    return code


def _write_every_name() -> None:
    """Let names and signs that the console cannot show be written as codes, rather than end the program."""
    for out in (sys.stdout, sys.stderr):
        if isinstance(out, io.TextIOWrapper):
            out.reconfigure(errors="backslashreplace")


def _drop_output() -> None:
    """Let what is still to be written go nowhere, or the interpreter fails on it at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
