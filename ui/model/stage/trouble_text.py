"""The sentence for a sensor or a file in trouble, in the user's language: by its reason, never by its text."""

from __future__ import annotations

from acquire.errors import AcquireError, LinkError
from ui.session.events import TroubleSource
from ui.words.error_text import error_text
from ui.words.words import Words


def trouble_sentence(error: AcquireError, words: Words, *, of: TroubleSource = TroubleSource.SENSOR) -> str:
    """Return what is wrong and what to do, for three metres away.

    Examples
    --------
    >>> from acquire.errors import LinkFailure
    >>> trouble_sentence(LinkError("", port="COM3", reason=LinkFailure.BUSY), Words())
    'COM3 is in use by another program: close that one.'
    """
    if isinstance(error, LinkError):
        return error_text(error, words)
    return words(f"trouble.{FILES.get(of, 'other')}", error=error)


FILES = {TroubleSource.FILE: "unsaved", TroubleSource.JOURNAL: "unjournaled", TroubleSource.CHANGED: "changed"}
"""Troubles with the disk, and their words."""
