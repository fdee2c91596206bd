"""What a battery came to, in words, when it is done: each action and side, the difference, what is worth repeating."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.values.records import TrialContext
from acquire.values.units import from_newtons
from analysis.results.action_result import ActionResult, Quantity
from analysis.results.sets import SetState
from analysis.results.sides import SideComparison
from analysis.results.summary import SessionSummary
from ui.model.stage.text import NOTHING, TestText
from ui.session.battery_progress import ItemState


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneRow:
    """One action and side."""

    context: TrialContext
    action: str
    side: str
    score: str
    difference: str
    """On the weaker side alone."""
    remark: str
    """What is missing, or worth repeating; empty where all is well."""


def done_rows(
    items: Sequence[tuple[ItemState, SetState | None]], summary: SessionSummary, text: TestText, *, agreement_pct: float
) -> tuple[DoneRow, ...]:
    """Return a row for each item of the battery.

    Parameters
    ----------
    items : sequence of (ItemState, SetState or None)
        The items in order, and where their sets stand.
    summary : SessionSummary
        What the session came to.
    text : TestText
        Language, unit, and whether forces are hidden.
    agreement_pct : float
        How well the best two trials of a set should agree, %.
    """
    return tuple(_row(item, state, summary, text, agreement_pct) for item, state in items)


def _row(
    item: ItemState, state: SetState | None, summary: SessionSummary, text: TestText, agreement_pct: float
) -> DoneRow:
    context, words = item.context, text.words
    side = words(f"test.{context.side}") if context.side else ""
    return DoneRow(
        context=context,
        action=text.action_name(context),
        side=", ".join(filter(None, (side, words(f"test.{context.method}")))),
        score=_score(_result(context, summary), summary, text),
        difference=_difference(context, summary, text),
        remark=_remark(item, state, text, agreement_pct),
    )


def _result(context: TrialContext, summary: SessionSummary) -> ActionResult | None:
    wanted = (context.action, context.side, context.method)
    return next((each for each in summary.actions if (each.action, each.side, each.method) == wanted), None)


def _score(result: ActionResult | None, summary: SessionSummary, text: TestText) -> str:
    value = None if result is None else result.value(summary.settings.score.of)
    if value is None or text.hidden:
        return NOTHING
    unit = text.unit
    digits = 0 if unit.symbol == "N" else 1
    force = text.words.number(from_newtons(value.force_n, unit), digits)
    if not value.force_budget.complete:
        return text.words("stage.score_alone", force=force, unit=unit.symbol)
    within = text.words.number(from_newtons(value.force_budget.expanded, unit), digits)
    return text.words("stage.score", force=force, within=within, unit=unit.symbol)


def _difference(context: TrialContext, summary: SessionSummary, text: TestText) -> str:
    found = [each for each in summary.sides if (each.action, each.method) == (context.action, context.method)]
    compared = found[0] if found else None
    if compared is None or text.hidden or compared.weaker != context.side or compared.difference_pct is None:
        return ""
    return _less(compared, text)


def _less(compared: SideComparison, text: TestText) -> str:
    percent = text.words.number(abs(compared.difference_pct or 0.0), 0)
    budget = compared.uncertainty
    if budget is None or not budget.complete:
        return text.words("stage.weaker", percent=percent)
    key = "stage.weaker_torque" if compared.quantity is Quantity.TORQUE else "stage.weaker_within"
    return text.words(key, percent=percent, within=text.words.number(budget.expanded, 0))


def _remark(item: ItemState, state: SetState | None, text: TestText, agreement_pct: float) -> str:
    words = text.words
    if item.skipped:
        return words("stage.was_left_out")
    if not item.plateaus():
        return words("stage.none_accepted")
    agreement = None if state is None else state.agreement_pct
    if agreement is not None and agreement > agreement_pct:
        return words("stage.apart", percent=words.number(agreement, 0))
    if state is not None and not state.complete:
        return words("stage.too_few", count=state.accepted)
    return ""
