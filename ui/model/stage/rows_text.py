"""The trials of an action in words: a row for each of its sides, with the best and the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.values.records import TrialContext
from analysis.results.settings import Index
from analysis.results.sides import difference_pct
from ui.model.stage.text import TestText, TrialText
from ui.session.battery_progress import ItemState


@dataclass(frozen=True, slots=True, kw_only=True)
class RowText:
    """One side of an action."""

    side: str
    """In capitals; the method where there is no side."""
    now: bool
    """Whether it is tried now."""
    boxes: tuple[TrialText, ...]
    best: str
    difference: str
    """On the weaker side alone; empty before both sides have an accepted trial."""
    heard: str
    """All of it in one sentence."""


def rows_text(
    battery: Sequence[ItemState], shown: TrialContext, text: TestText, *, planned: int, done: bool
) -> tuple[RowText, ...]:
    """Return the rows of an action.

    Parameters
    ----------
    battery : sequence of ItemState
        The items, in order.
    shown : TrialContext
        What is tried now, or what the verdict that is shown is of.
    text : TestText
        Language, unit, and whether forces are hidden.
    planned : int
        Trials that a set asks for.
    done : bool
        Whether the whole battery is done, so that no trial is tried now.
    """
    station = [item for item in battery if item.context.action == shown.action]
    return tuple(
        _row(item, station, text, planned=planned, now=not done and item.context.side == shown.side) for item in station
    )


def _row(item: ItemState, station: Sequence[ItemState], text: TestText, *, planned: int, now: bool) -> RowText:
    words = text.words
    side = words(f"test.{item.context.side or item.context.method}").upper()
    boxes = (*_by_hand(item, text), *_boxes(item, text, planned=planned, now=now))
    best, difference = _best(item, text), _difference(item, station, text)
    parts = [
        words("stage.row_box", title=box.title, force=box.force, verdict=box.verdict).replace("  ", " ")
        for box in boxes
    ]
    told = ", ".join([*parts, *(word for word in (best, difference) if word)])
    heard = words("stage.row", side=side.capitalize(), trials=told)
    return RowText(side=side, now=now, boxes=boxes, best=best, difference=difference, heard=heard)


def _by_hand(item: ItemState, text: TestText) -> list[TrialText]:
    """Return the trials by hand of an item that went on with a belt."""
    return [text.tried(text.words("stage.by_hand"), result) for result in item.by_hand]


def _boxes(item: ItemState, text: TestText, *, planned: int, now: bool) -> list[TrialText]:
    """Return the trials done and, of those planned, the ones to come; one that is tried beyond them has a box too."""
    tried = len(item.results)
    count = tried if item.skipped else max(planned, tried + now)
    return [text.trial(place, item.results, now=now) for place in range(count)]


def _best(item: ItemState, text: TestText) -> str:
    forces = item.plateaus()
    if not forces or text.hidden:
        return ""
    return text.words("stage.best", force=f"{text.force(max(forces))} {text.unit.symbol}")


def _difference(item: ItemState, station: Sequence[ItemState], text: TestText) -> str:
    """Return by how much the better side's best is missed, on the weaker side alone."""
    others = [each for each in station if each.context.side != item.context.side and each.context.side]
    mine, theirs = item.plateaus(), [force for each in others for force in each.plateaus()]
    if not mine or not theirs or text.hidden or any(each.context.method != item.context.method for each in others):
        return ""
    if max(mine) >= max(theirs):
        return ""
    percent = round(difference_pct(max(mine), max(theirs), Index.STRONGER))
    return text.words("stage.weaker", percent=percent) if percent else text.words("stage.even")
