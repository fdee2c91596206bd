"""What the program wrote beside a trial, in the language of the reader."""

from __future__ import annotations

from acquire.decoders import Reason
from acquire.values.remarks import ProgramReason, TrialEnd
from ui.words.words import Words

KNOWN: dict[str, str] = {each.value: each.name.lower() for kind in (Reason, TrialEnd, ProgramReason) for each in kind}
"""The key of each remark of the program, by what a session file holds."""


def remark_text(stored: str, words: Words) -> str:
    """Return a remark of the program in a language, and what a person wrote as it is.

    Examples
    --------
    >>> remark_text("bad checksum", Words("de")), remark_text("the pad slipped", Words("de"))
    ('falsche Prüfsumme', 'the pad slipped')
    """
    return words(f"remark.{KNOWN[stored]}") if stored in KNOWN else stored
