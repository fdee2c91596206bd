"""The charts of an audit in words, for those who do not see them."""

from __future__ import annotations

import datetime as dt

from acquire.values.units import ForceUnit, from_newtons
from analysis.audit.trend import Course
from analysis.reliability.retest import Reliability
from ui.model.audit.charts import Funnel
from ui.words.words import Words


def funnel_heard(funnel: Funnel | None, words: Words) -> str:
    """Return how many examiners the funnel shows, and who is outside its limits."""
    if funnel is None or not funnel.points:
        return words("audit.funnel.nothing")
    outside = [point.code for point in funnel.points if point.finding]
    share = words.number(funnel.overall_pct, 0)
    told = words("audit.heard.funnel", count=len(funnel.points), share=share)
    found = words("audit.heard.outside", codes=", ".join(outside)) if outside else words("audit.heard.inside")
    return f"{told} {found}"


def course_heard(course: Course | None, words: Words) -> str:
    """Return from when to when a course goes, where it stands now, and whether it left its limits."""
    if course is None or not len(course.at_s):
        return words("audit.heard.nothing")
    first, last = (words.day(dt.datetime.fromtimestamp(float(course.at_s[at]), dt.UTC)) for at in (0, -1))
    now = words.number(float(course.average[-1]), 1)
    told = words("audit.heard.course", count=len(course.at_s), first=first, last=last, now=now)
    signals = [signal for signal in course.signals if signal.chart == "ewma"]
    parts = [
        words("audit.heard.signal", what=words(f"audit.course.{signal.change}"), day=_day(signal.at_s, words))
        for signal in signals
    ]
    return " ".join([told, *(parts or [words("audit.heard.steady")])])


def agreement_heard(study: Reliability | None, words: Words, unit: ForceUnit) -> str:
    """Return how far two examiners are apart, and within which limits."""
    limits = None if study is None or study.numbers is None else study.numbers.agreement
    if study is None or limits is None:
        return words("audit.heard.nothing")
    low, bias, high = (
        words.number(from_newtons(each, unit), 1, signed=True) for each in (limits.low, limits.bias, limits.high)
    )
    return words("audit.heard.agreement", count=len(study.values), bias=bias, low=low, high=high, unit=unit.symbol)


def _day(at_s: float, words: Words) -> str:
    return words.day(dt.datetime.fromtimestamp(at_s, dt.UTC))
