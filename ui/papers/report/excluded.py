"""The trials that do not count, each with the reason."""

from __future__ import annotations

from analysis.trial.judged_trial import Exclusion, JudgedTrial
from ui.papers.report.content import Column, Notes, Row, Section, Table
from ui.papers.report.occasion import Occasion
from ui.papers.report.wording import Wording
from ui.words.fault_text import fault_finding, fault_name
from ui.words.remark_text import remark_text
from ui.words.withheld_text import withheld_sentence


def excluded_section(wording: Wording, occasion: Occasion) -> Section:
    """Return the trials that were rejected, set aside, or lack a plateau force."""
    found = [(each, why) for each in occasion.trials if (why := each.excluded) is not None]
    if not found:
        return Section(title=wording("left_out.title"), blocks=(Notes(sentences=(wording("left_out.none"),)),))
    columns = (
        Column(heading=wording("left_out.trial"), width=36, number=True),
        Column(heading=wording("left_out.what"), width=112),
        Column(heading=wording("left_out.status"), width=58),
        Column(heading=wording("left_out.why"), width=340),
    )
    rows = tuple(
        Row(cells=(str(each.number), _what(wording, each), wording(f"left_out.{why.value}"), _why(wording, each, why)))
        for each, why in found
    )
    return Section(title=wording("left_out.title"), blocks=(Table(columns=columns, rows=rows),))


def _what(wording: Wording, judged: JudgedTrial) -> str:
    context = judged.trial.context
    return wording.joined(context.action, context.side)


def _why(wording: Wording, judged: JudgedTrial, why: Exclusion) -> str:
    if why is Exclusion.SET_ASIDE:
        decision = judged.trial.set_aside[-1]
        return wording(
            "left_out.decided",
            reason=remark_text(decision.reason, wording.words),
            by=decision.by,
            at=wording.moment(decision.at),
        )
    if why is Exclusion.CUT_OFF:
        return remark_text(str(judged.cut_off), wording.words)
    if why is Exclusion.WITHHELD:
        return withheld_sentence(judged.judgement.withheld["plateau_force_n"], wording.words)
    first, *others = judged.judgement.rejecting
    # the sentence goes on with what to do in the next trial, which is over now
    told = fault_finding(first, wording.words, wording.unit)
    text = f"{fault_name(first.code, wording.words)}: {wording.marked(told)}."
    if others:
        text += " " + wording("left_out.also", names=", ".join(fault_name(each.code, wording.words) for each in others))
    return text
