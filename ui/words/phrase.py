"""A sentence that is not yet in a language: what to look up, and what to fill in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from ui.words.words import Words


class Phrase(NamedTuple):
    """One sentence by its key.

    Examples
    --------
    >>> Phrase("test.trial", {"number": 2}).said(Words("de"))
    'Versuch 2'
    """

    key: str
    values: Mapping[str, object] = {}

    def said(self, words: Words) -> str:
        """Return the sentence in a language."""
        return words(self.key, **self.values)
