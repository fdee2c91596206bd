"""The sentence for a sensor in trouble, in the user's language: by its reason, never by its text."""

from __future__ import annotations

from acquire.errors import AcquireError, LinkError
from ui.model.words import Words


def trouble_sentence(error: AcquireError, words: Words) -> str:
    """Return what is wrong with a sensor and what to do, for three metres away.

    Examples
    --------
    >>> from acquire.errors import LinkFailure
    >>> trouble_sentence(LinkError("", port="COM3", reason=LinkFailure.BUSY), Words())
    'COM3 is in use by another program: close that one.'
    """
    if not isinstance(error, LinkError):
        return words("trouble.other", error=error)
    return words(f"trouble.{error.reason.name.lower()}", port=error.port, error=error)
