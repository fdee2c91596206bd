"""All words that the window shows or says, in the language of the user: one folder of TOML files a language.

A word is looked up by table and key, ``words("cue.hold")``, and filled in like a format string, numbers with the
decimal sign of the language. A word that depends on a count is a table of plural forms, named as in CLDR (``one``,
``other``), and is chosen by the gap `count`. A language may lack words; then the English one is shown, never a key.
"""

from __future__ import annotations

import math
import string
import tomllib
from datetime import date, datetime
from functools import cache
from importlib import resources
from typing import Any, NamedTuple

from ui.words.conventions import localised, plural_form, written_day
from ui.words.shown import Shown

FALLBACK = "en"
NOTHING = "\u2013"
MINUS = "\u2212"


def languages() -> tuple[str, ...]:
    """Return the languages there are, English first.

    Examples
    --------
    >>> languages()
    ('en', 'de')
    """
    found = [folder.name for folder in _folder().iterdir() if folder.is_dir() and not folder.name.startswith("_")]
    return tuple(sorted(found, key=lambda name: (name != FALLBACK, name)))


class Rounded(NamedTuple):
    """A number in a gap, before the language is known.

    Examples
    --------
    >>> Words("de")("test.seconds", seconds=Rounded(2.54, 1))
    '2,5 s'
    """

    value: float | None
    digits: int
    signed: bool = False


class Written(NamedTuple):
    """A number that was written with its unit before the language is known.

    Examples
    --------
    >>> Words("de")("test.zero", zero=Written("2.5 N"))
    ', Nullpunkt 2,5 N'
    """

    text: str


class Words:
    """The words of one language.

    Examples
    --------
    >>> Words("en")("cue.hold"), Words("de")("cue.hold")
    ('HOLD', 'HALTEN')
    """

    def __init__(self, language: str = FALLBACK) -> None:
        if language not in languages():
            raise ValueError(f"language must be one of {', '.join(languages())}, got {language}")
        self.language = language

    def __call__(self, key: str, **values: object) -> str:
        """Return a word, its gaps filled in.

        Raises
        ------
        KeyError
            If no language has it.

        Examples
        --------
        >>> Words("de")("test.seconds", seconds=2.0)
        '2 s'
        """
        template = _found(self.language, key, values)
        if template is None:
            template = _found(FALLBACK, key, values)
        if template is None:
            raise KeyError(key)
        return _Filling(self).format(template, **values)

    def number(self, value: float | None, digits: int, *, signed: bool = False) -> str:
        """Return a number with so many digits after the decimal sign; a dash for None and for what is no number.

        Examples
        --------
        >>> Words("de").number(0.046, 2), Words("en").number(-0.001, 1), Words("en").number(2.5, 1, signed=True)
        ('0,05', '0.0', '+2.5')
        """
        if value is None or not math.isfinite(value):
            return NOTHING
        rounded = round(value, digits) + 0.0  # no minus before nothing
        sign = MINUS if rounded < 0.0 else "+" if signed and rounded > 0.0 else ""
        return sign + localised(f"{abs(rounded):.{digits}f}", self.language)

    def day(self, when: date) -> str:
        """Return a day as it is written in reports and tables.

        Examples
        --------
        >>> import datetime as dt
        >>> Words("de").day(dt.date(2026, 3, 12)), Words("en").day(dt.date(2026, 3, 12))
        ('12.03.2026', '2026-03-12')
        """
        return written_day(when, self("format.day"), self.language)

    def moment(self, when: datetime) -> str:
        """Return a moment to the minute, in the zone it was written with."""
        return f"{self.day(when)} {when:%H:%M}"


class _Filling(string.Formatter):
    """Fills gaps in; a number gets the decimal sign of the language."""

    def __init__(self, words: Words) -> None:
        self._words = words

    def format_field(self, value: Any, format_spec: str) -> str:  # noqa: ANN401 (as the standard library has it)
        if isinstance(value, Rounded):
            return self._words.number(value.value, value.digits, signed=value.signed)
        if isinstance(value, date) and not format_spec:
            return self._words.moment(value) if isinstance(value, datetime) else self._words.day(value)
        if isinstance(value, Written):
            return localised(value.text, self._words.language)
        if isinstance(value, Shown):
            return value.written(format_spec, self._words.language)
        text = str(super().format_field(value, format_spec))
        return localised(text, self._words.language) if isinstance(value, float) else text


def _found(language: str, key: str, values: dict[str, object]) -> str | None:
    """Return a word of one language, in the plural form of its count if it has forms."""
    words = _table(language)
    count = values.get("count")
    if key in words or not isinstance(count, int | float):
        return words.get(key)
    return words.get(f"{key}.{plural_form(language, count)}")


@cache
def _table(language: str) -> dict[str, str]:
    """Return every word of a language by its dotted key."""
    found: dict[str, str] = {}
    for file in _folder().joinpath(language).iterdir():
        if file.name.endswith(".toml"):
            _flatten(tomllib.loads(file.read_text(encoding="utf-8")), "", found)
    return found


def _flatten(table: dict[str, Any], before: str, found: dict[str, str]) -> None:
    for key, value in table.items():
        if isinstance(value, dict):
            _flatten(value, f"{before}{key}.", found)
        else:
            found[f"{before}{key}"] = str(value)


def _folder() -> Any:  # noqa: ANN401 (importlib.resources.abc.Traversable, which mypy does not let be joined)
    return resources.files("ui") / "data" / "words"


ENGLISH = Words()
"""What the terminal, files and other programs read."""
