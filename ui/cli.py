"""The command `ramphold`: 0 done, 1 could not do it and one sentence says why, 2 wrong usage."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence

from ui.arguments import build_parser

COULD_NOT = 1
INTERRUPTED = 130
"""What a shell expects of a program that Ctrl-C ended."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Only the module of the command that is asked for is imported, so that help stays light.
    """
    options = build_parser().parse_args(arguments)
    from acquire.errors import AcquireError  # noqa: PLC0415 (help needs no part of the program)
    from analysis.errors import AnalysisError  # noqa: PLC0415

    try:
        command = importlib.import_module(f"ui.commands.{options.command}")
        return int(command.run(options))
    except (AcquireError, AnalysisError) as error:
        print(f"ramphold: {error}", file=sys.stderr)
        return COULD_NOT
    except BrokenPipeError:
        # the reader of our output has gone, as `| head` does: say nothing more
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return COULD_NOT
    except KeyboardInterrupt:
        print("ramphold: stopped", file=sys.stderr)
        return INTERRUPTED


if __name__ == "__main__":
    sys.exit(main())
