r"""Texts from outside: codes of people have a form, and control characters are shown, never obeyed.

A name or note may come from a radio in range, a stored session or a file name. In a terminal its control characters
could move the cursor, hide a line or turn the reading direction, so that they are written as codes such as ``\x1b``.
"""

from __future__ import annotations

import re
from typing import Any

CODE_MOST = 32
CODE_FORM = re.compile(rf"[\w.-]{{1,{CODE_MOST}}}")
"""Of persons and examiners: letters, digits, ``.``, ``-`` and ``_``. No path, no formula, no blank as in a name."""

_OBEYED = re.compile(
    "[\x00-\x1f\x7f-\x9f"  # C0, DEL and C1
    "\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff"  # no width, line ends, reading direction (Unicode, TR 36)
    "\ud800-\udfff]"  # bytes of a name that are no UTF-8
)

MAY_BE_OBEYED = re.compile(
    rb"[\\\x7f]|\xc2[\x80-\x9f]|\xd8\x9c|\xe2\x80[\x8b-\x8f\xa8-\xae]|\xe2\x81[\xa0-\xaf]|\xef\xbb\xbf"
)
"""In JSON of UTF-8: an escape, or one of these characters as it is; where it finds nothing, all is visible."""


def is_code(text: str) -> bool:
    r"""Tell whether a text has the form of a code.

    Examples
    --------
    >>> [is_code(text) for text in ("P-014", "mü_2.b", "../x", "=cmd", "A\nB", "two words", "", "x" * 33)]
    [True, True, False, False, False, False, False, False]
    """
    return CODE_FORM.fullmatch(text) is not None


def visible(text: str) -> str:
    r"""Return a text with its control characters written as codes; of other texts nothing changes.

    Examples
    --------
    >>> print(visible("sensor\x1b[2J\u202eabc"), visible("Prüfung 1"))
    sensor\x1b[2J\u202eabc Prüfung 1
    """
    return _OBEYED.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


def all_visible(value: Any) -> Any:  # noqa: ANN401 - plain JSON values
    r"""Return plain JSON values with all texts in them made visible, keys too.

    Examples
    --------
    >>> print(all_visible({"code": "P\x1b-1"})["code"])
    P\x1b-1
    """
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, dict):
        return {all_visible(key): all_visible(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [all_visible(each) for each in value]
    return value
