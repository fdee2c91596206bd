"""Errors as sentences of a language: what is wrong with a link by its detail and reason, never by its text.

What a file lacks is said by the error itself, in English: it names keys and lines of a file that is English too.
"""

from __future__ import annotations

from acquire.errors import LinkError
from ui.words.words import Words


def error_text(error: Exception, words: Words) -> str:
    """Return what is wrong and what to do.

    Examples
    --------
    >>> from acquire.errors import LinkFailure
    >>> error_text(LinkError("", port="COM3", reason=LinkFailure.BUSY), Words())
    'COM3 is in use by another program: close that one.'
    """
    if not isinstance(error, LinkError):
        return str(error)
    key = (error.detail or error.reason).name.lower()
    return words(f"trouble.{key}", **{"error": error, **error.values, "port": error.port})
