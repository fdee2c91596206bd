"""A profile as a TOML file with comments, laid out like those that come along."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from pathlib import Path

from acquire.errors import ProfileError
from acquire.files.atomic import replace_file
from acquire.files.tomlfile import toml_value
from acquire.sensor.profile import FIELDS, Profile

GROUPS = (
    ("name", "title"),
    ("link", "baud", "service", "characteristic", "command_characteristic"),
    ("framing", "columns", "separator", "count_bits", "sequence_bits", "tick_hz"),
    ("rate_hz", "rated_force_n", "rating", "counts_per_newton", "sensitivity", "zero_counts"),
    ("start", "stop", "zero", "silent_after_s"),
)
"""Keys that stand together, in the order of the file."""
WIDTH = 110


def profile_text(profile: Profile, *, comments: Mapping[str, str] | None = None, heading: str = "") -> str:
    """Return the text of a profile file.

    Parameters
    ----------
    profile : Profile
        What to write; keys with their default values are left out where there is no comment on them.
    comments : mapping, optional
        What to say above a key.
    heading : str
        What to say first, in paragraphs.

    Examples
    --------
    >>> from acquire.sensor.profile import load_profile
    >>> print(profile_text(load_profile("bridge-80"), comments={"rate_hz": "measured"}, heading="Mine."))
    # Mine.
    <BLANKLINE>
    name = "bridge-80"
    title = "Load cell, 24 bits, 80 Hz, text lines over USB"
    <BLANKLINE>
    framing = "lines"
    columns = ["counts"]
    <BLANKLINE>
    # measured
    rate_hz = 80.0
    rated_force_n = 500.0
    counts_per_newton = 8400.0
    <BLANKLINE>
    """
    said = comments or {}
    blocks = ["".join(_remark(line) for line in heading.splitlines())]
    for group in GROUPS:
        wanted = [key for key in group if key in said or getattr(profile, key) != FIELDS[key].default]
        blocks.append("".join(_entry(key, getattr(profile, key), said.get(key, "")) for key in wanted))
    return "\n".join(block for block in blocks if block)


def _entry(key: str, value: str | float | tuple[str, ...], comment: str) -> str:
    lines = textwrap.wrap(comment, WIDTH, break_long_words=False)
    return "".join(map(_remark, lines)) + f"{key} = {toml_value(value)}\n"


def _remark(line: str) -> str:
    """Return a line of comment; control characters are not allowed in one."""
    plain = "".join(letter if letter.isprintable() else " " for letter in line)
    return f"# {plain}".rstrip() + "\n"


def save_profile(path: str | Path, text: str) -> None:
    """Write the text of a profile: aside, synced, then put in place whole.

    Raises
    ------
    ProfileError
        If the file cannot be written; what was there before is then untouched.
    """

    def write(aside: Path) -> None:
        aside.write_text(text, encoding="utf-8", newline="\n")

    try:
        replace_file(path, write)
    except OSError as error:
        raise ProfileError(f"cannot write the profile {path}: {error.strerror or error}") from error
