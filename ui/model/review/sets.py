"""The set of the trial that is looked at: both sides of its action, the difference, and what they gave last time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from acquire.values.records import Side, TrialContext
from acquire.values.units import ForceUnit, from_newtons
from analysis.results.action_result import ActionResult, Quantity
from analysis.results.sides import SideComparison
from analysis.results.summary import SIDES, SessionSummary
from ui.model.review.text import DIGITS, action_name
from ui.words.words import NOTHING, Words


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLine:
    """One line of the card: what it is, and a value for each side."""

    label: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetCard:
    """The set of one action by one method."""

    title: str
    sides: tuple[str, ...]
    """Both sides, or one empty word for an action without sides."""
    lines: tuple[SetLine, ...]
    difference: str
    """Side against side in a sentence; empty where there are no two sides to compare."""
    last_time: str
    """Of when the values of last time are, or that there are none."""

    @property
    def heard(self) -> str:
        """All of it in words."""
        told = [
            f"{side} {line.label}: {value}".strip()
            for line in self.lines
            for side, value in zip(self.sides, line.values, strict=True)
        ]
        return ". ".join(filter(None, (self.title, "; ".join(told), self.difference, self.last_time)))


@dataclass(frozen=True, slots=True, kw_only=True)
class LastTime:
    """What the same person gave in the session before, judged by the same protocol."""

    started: datetime
    actions: tuple[ActionResult, ...]


def set_card(
    summary: SessionSummary, shown: TrialContext, last: LastTime | None, words: Words, unit: ForceUnit
) -> SetCard | None:
    """Return the card of an action; None where no action is known.

    Parameters
    ----------
    summary : SessionSummary
        What the session came to.
    shown : TrialContext
        Of the trial that is looked at.
    last : LastTime or None
        The session before; None where there is none.
    words, unit
        Language and unit of force.
    """
    if not shown.action:
        return None
    sides: tuple[Side | None, ...] = SIDES if shown.side else (None,)
    now = [_of(summary.actions, shown, side) for side in sides]
    before = [_of(last.actions if last else (), shown, side) for side in sides]
    lines = [
        SetLine(
            label=words("review.set.score", unit=unit.symbol),
            values=tuple(_score(each, summary, words, unit) for each in now),
        ),
        SetLine(label=words("review.set.accepted"), values=tuple(_accepted(each, words) for each in now)),
        SetLine(label=words("review.set.apart"), values=tuple(_apart(each, words) for each in now)),
    ]
    if any(each is not None for each in before):
        pairs = [(_force(one, summary), _force(other, summary)) for one, other in zip(now, before, strict=True)]
        lines += [
            SetLine(
                label=words("review.set.last", unit=unit.symbol),
                values=tuple(_number(other, words, unit) for _, other in pairs),
            ),
            SetLine(label=words("review.set.change"), values=tuple(_change(*pair, words) for pair in pairs)),
        ]
    known = last is not None and any(each is not None for each in before)
    when = words("review.set.last_time", day=last.started.date()) if last is not None else ""
    return SetCard(
        title=f"{action_name(shown.action, words)}, {words(f'test.{shown.method}')}",
        sides=tuple(words(f"test.{side}") if side else "" for side in sides),
        lines=tuple(lines),
        difference=_difference(summary, shown, words),
        last_time=when if known else words("review.set.nothing_before"),
    )


def _of(actions: Sequence[ActionResult], shown: TrialContext, side: Side | None) -> ActionResult | None:
    wanted = (shown.action, side, shown.method, shown.sensor)
    return next((each for each in actions if (each.action, each.side, each.method, each.sensor) == wanted), None)


def _force(result: ActionResult | None, summary: SessionSummary) -> float | None:
    value = None if result is None else result.value(summary.settings.score.of)
    return None if value is None else value.force_n


def _score(result: ActionResult | None, summary: SessionSummary, words: Words, unit: ForceUnit) -> str:
    """Return the score of a set, with its uncertainty where that is known."""
    value = None if result is None else result.value(summary.settings.score.of)
    if value is None:
        return NOTHING
    force = _number(value.force_n, words, unit)
    if not value.force_budget.complete:
        return force
    return words("review.set.within", force=force, within=_number(value.force_budget.expanded, words, unit))


def _number(newtons: float | None, words: Words, unit: ForceUnit) -> str:
    return NOTHING if newtons is None else words.number(from_newtons(newtons, unit), DIGITS[unit] - 1)


def _accepted(result: ActionResult | None, words: Words) -> str:
    if result is None:
        return NOTHING
    used = len(result.set.used)
    return words("review.set.of", count=used, tried=used + len(result.set.unused))


def _apart(result: ActionResult | None, words: Words) -> str:
    return words.number(None if result is None else result.set.agreement_pct, 0)


def _change(now: float | None, before: float | None, words: Words) -> str:
    """Return by how much a force differs from that of last time, %."""
    if now is None or not before:
        return NOTHING
    return words.number(100.0 * (now - before) / before, 0, signed=True)


def _difference(summary: SessionSummary, shown: TrialContext, words: Words) -> str:
    """Return side against side; "weaker" is said only of a difference beyond the measurement error."""
    wanted = (shown.action, shown.method)
    found = next((each for each in summary.sides if (each.action, each.method) == wanted), None)
    if found is None or found.difference_pct is None or found.weaker is None:
        return ""
    side = words(f"test.{found.weaker}").capitalize()
    percent, within = words.number(abs(found.difference_pct), 0), words.number(found.error_pct, 0)
    return words(f"review.set_sides.{_kind(found)}", side=side, percent=percent, within=within)


def _kind(found: SideComparison) -> str:
    torque = "_torque" if found.quantity is Quantity.TORQUE else ""
    if found.error_pct is None:
        return f"less_unknown{torque}"
    return f"weaker{torque}" if found.beyond_error else f"within{torque}"
