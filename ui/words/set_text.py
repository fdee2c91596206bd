"""Where a set stands, in a few words."""

from __future__ import annotations

from analysis.results.sets import SetState
from ui.words.words import Words


def set_sentence(state: SetState, words: Words) -> str:
    """Return why a set is complete, or what is still wanted.

    Examples
    --------
    >>> from analysis.results.sets import set_state
    >>> from analysis.trial.protocol import load_protocol
    >>> set_sentence(set_state([200.0, 195.0], 3, load_protocol().set), Words("de"))
    'noch 1 gültiger Versuch'
    """
    return words(f"set.{state.reason}", count=state.missing, tried=state.tried, pct=state.agreement_pct)
