"""What an action is called in the user's language."""

from __future__ import annotations

from analysis.actions import Action, load_actions
from ui.model.words import FALLBACK, Words


def action_name(words: Words, action: Action) -> str:
    """Return the name of an action: of the thirteen in the language, of a user's own as their file has it.

    Examples
    --------
    >>> action_name(Words("de"), load_actions()["knee-extension"])
    'Knieextension'
    """
    known = load_actions().get(action.key)
    if words.language == FALLBACK or known is None or known.name != action.name:
        return action.name
    return words(f"action.{action.key}")
