"""Readers of what is typed for an option: a wrong value is told with what it must be."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable


def above(least: float) -> Callable[[str], float]:
    """Return a reader of numbers above one."""
    return between(least, math.inf, open_end=True)


def between(least: float, most: float, *, open_end: bool = False) -> Callable[[str], float]:
    """Return a reader of numbers from one to another, without the ends where `open_end`."""

    def number(text: str) -> float:
        value = float(text)
        if not (least < value < most if open_end else least <= value <= most):
            limits = f"above {least:g}" if open_end else f"{least:g} to {most:g}"
            raise argparse.ArgumentTypeError(f"must be {limits}, got {text}")
        return value

    return number


def whole_number(least: int) -> Callable[[str], int]:
    """Return a reader of whole numbers, from one up."""

    def number(text: str) -> int:
        if int(text) < least:
            raise argparse.ArgumentTypeError(f"must be {least} or more, got {text}")
        return int(text)

    return number


def code(text: str) -> str:
    """Read the code of a person or an examiner; an empty one is none."""
    from acquire.values.outside_text import CODE_MOST, is_code  # noqa: PLC0415 (help needs no part of the program)

    if text and not is_code(text):
        raise argparse.ArgumentTypeError(
            f"must be letters, digits, '.', '-' and '_', {CODE_MOST} at most, got {text[:40]!r}"
        )
    return text


def profile_name(text: str) -> str:
    """Read the name of a profile."""
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", text):
        raise argparse.ArgumentTypeError(f"must be lower-case letters, digits and single hyphens, got {text}")
    return text


ESCAPES = {r"\n": "\n", r"\r": "\r", r"\t": "\t", r"\\": "\\"}


def command_text(text: str) -> str:
    r"""Read a command as a shell can give it: \n and \r for line ends, \x01 for a byte."""

    def meant(found: re.Match[str]) -> str:
        return ESCAPES[found[0]] if found[1] is None else chr(int(found[1], base=16))

    read = re.sub(r"\\x([0-9a-fA-F]{2})|\\[nrt\\]", meant, text)
    if not read.isascii():
        raise argparse.ArgumentTypeError(f"must be ASCII characters, with \\n for a line end, got {text}")
    return read
