"""All words that the window shows or says, in the language of the user: one folder of TOML files a language.

A word is looked up by table and key, ``words("cue.hold")``, and filled in like a format string. A language
may lack words; then the English one is shown, never a key.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any

FALLBACK = "en"


def languages() -> tuple[str, ...]:
    """Return the languages there are, English first.

    Examples
    --------
    >>> languages()
    ('en', 'de')
    """
    found = [folder.name for folder in _folder().iterdir() if folder.is_dir() and not folder.name.startswith("_")]
    return tuple(sorted(found, key=lambda name: (name != FALLBACK, name)))


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
        """
        found = _table(self.language).get(key)
        return (_table(FALLBACK)[key] if found is None else found).format(**values)


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
