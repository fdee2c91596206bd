"""What the card of an action says, in the language of the window."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.values.records import TrialContext
from analysis.battery.actions import Action, in_language
from ui.words.words import Words

ROWS = ("limb", "pad", "push", "steady")
"""What an action says of itself, in the order of the card."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRow:
    """One line of the card."""

    key: str
    label: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CardText:
    """All that the card says."""

    title: str
    about: str
    """Side, position and method."""
    rows: tuple[CardRow, ...]
    described: str
    """The figure in words; empty when there is none."""


def card_text(context: TrialContext, action: Action | None, words: Words) -> CardText:
    """Return what the card says of a trial.

    Parameters
    ----------
    context : TrialContext
        Which action of which side, held how.
    action : Action or None
        None for an action that no file describes; then the card gives its name and what to say.
    words : Words
        The language.

    Examples
    --------
    >>> card_text(TrialContext(action="toe-tap", side="left"), None, Words("en")).title
    'Toe tap'
    """
    told = None if action is None else in_language(action, words.language)
    return CardText(
        title=_title(context, told, words),
        about=", ".join(_about(context, told, words)),
        rows=tuple(_rows(told, words)),
        described="" if told is None else _described(told, words),
    )


def _title(context: TrialContext, action: Action | None, words: Words) -> str:
    if action is not None:
        return action.name
    if context.action is None:
        return words("card.free")
    return context.action.replace("-", " ").capitalize()


def _about(context: TrialContext, action: Action | None, words: Words) -> list[str]:
    keys = [context.side, None if action is None else action.position, context.method]
    return [words(f"test.{key}") for key in keys if key is not None]


def _rows(action: Action | None, words: Words) -> list[CardRow]:
    told = [] if action is None else [(key, getattr(action, key)) for key in ROWS]
    told.append(("say", words("test.script")))
    return [CardRow(key=key, label=words(f"test.{key}"), text=text) for key, text in told]


def _described(action: Action, words: Words) -> str:
    key = "card.sit_described" if action.position == "seated" else "card.described"
    return words(key, limb=action.limb, pad=action.pad, push=action.push, steady=action.steady)
