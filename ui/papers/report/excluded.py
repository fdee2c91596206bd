"""The trials that do not count, each with the reason."""

from __future__ import annotations

from analysis.results.set_result import LeftOut, Tried, why_left_out
from ui.model.review.text import fault_name, fault_sentence, reason
from ui.papers.report.content import Column, Notes, Row, Section, Table
from ui.papers.report.occasion import Occasion
from ui.papers.report.wording import Pen


def left_out(pen: Pen, occasion: Occasion) -> Section:
    """Return the trials that were rejected, set aside, or lack a plateau force."""
    found = [(each, why) for each in occasion.tried if (why := why_left_out(each)) is not None]
    if not found:
        return Section(title=pen("left_out.title"), blocks=(Notes(sentences=(pen("left_out.none"),)),))
    columns = (
        Column(heading=pen("left_out.trial"), width=36, number=True),
        Column(heading=pen("left_out.what"), width=112),
        Column(heading=pen("left_out.status"), width=58),
        Column(heading=pen("left_out.why"), width=340),
    )
    rows = tuple(
        Row(cells=(str(each.number), _what(pen, each), pen(f"left_out.{why.value}"), _why(pen, each, why)))
        for each, why in found
    )
    return Section(title=pen("left_out.title"), blocks=(Table(columns=columns, rows=rows),))


def _what(pen: Pen, tried: Tried) -> str:
    context = tried.trial.context
    return pen.joined(context.action, context.side)


def _why(pen: Pen, tried: Tried, why: LeftOut) -> str:
    if why is LeftOut.SET_ASIDE:
        decision = tried.trial.set_aside[-1]
        return pen("left_out.decided", reason=decision.reason, by=decision.by, at=pen.moment(decision.at))
    if why is LeftOut.WITHHELD:
        return reason(tried.judgement.withheld.get("plateau_force_n", ""), pen.words)
    first, *others = tried.judgement.rejecting
    # the sentence goes on with what to do in the next trial, which is over now
    told = fault_sentence(first, pen.words, pen.unit).partition(": ")[0].rstrip(".")
    text = f"{fault_name(first.code, pen.words)}: {pen.marked(told)}."
    if others:
        text += " " + pen("left_out.also", names=", ".join(fault_name(each.code, pen.words) for each in others))
    return text
