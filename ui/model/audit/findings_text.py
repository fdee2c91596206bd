"""What an audit says of an examiner, in sentences of a language: the same in a terminal, on paper and on screen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from itertools import zip_longest

from analysis.audit.archive_audit import SensorAudit
from analysis.audit.ceilings import Ceiling
from analysis.audit.examiners import REJECTED, ExaminerAudit, Number, Share
from analysis.audit.trend import Course
from ui.words.words import Rounded, Words

NameOf = Callable[[str], str]
"""What a fault or an action is called, by its code; `str` leaves the code as it is."""

NUMBER_UNITS = {
    "ramp_time_s": "s",
    "jerk_pct_per_s": "%/s",
    "preload_pct": "%",
    "hold_time_s": "s",
    "hold_spread_pct": "%",
    "hold_trend_pct_per_s": "%/s",
    "shake_pct": "%",
}
"""Unit of each number of the technique."""


def number_name(name: str, words: Words) -> str:
    """Return what a number of the technique is called.

    Examples
    --------
    >>> number_name("shake_pct", Words("en")), number_name("shake_pct", Words("de"))
    ('tremor', 'Tremor')
    """
    return words(f"audit.number.{name}")


def advice(code: str, words: Words) -> str:
    """Return what to do about a habit."""
    try:
        return words(f"audit.advice.{code}")
    except KeyError:
        return words("audit.advice.other")


def day(at_s: float) -> date:
    """Return a date.

    Examples
    --------
    >>> day(0.0)
    datetime.date(1970, 1, 1)
    """
    return datetime.fromtimestamp(at_s, UTC).date()


def says(examiner: ExaminerAudit, words: Words, fault: NameOf = str) -> str:
    """Return what an audit says of an examiner in a few words."""
    if not examiner.enough:
        return words("audit.too_few")
    return ", ".join(_found(examiner, words, fault)) or words("audit.nothing")


def _found(examiner: ExaminerAudit, words: Words, fault: NameOf) -> Iterator[str]:
    yield from (fault(code) for code, share in examiner.shares.items() if share.finding and code != REJECTED)
    yield from (number_name(name, words) for name, number in examiner.numbers.items() if number.finding)
    if examiner.ceiling is not None:
        yield words("audit.ceiling")


def plain_action(action: str) -> str:
    """Return an action by its key, in plain letters.

    Examples
    --------
    >>> plain_action("knee-extension")
    'knee extension'
    """
    return action.replace("-", " ")


def finding_lines(
    examiner: ExaminerAudit, words: Words, fault: NameOf = str, action: NameOf = plain_action
) -> list[str]:
    """Return a sentence for each finding of one examiner; none where there are too few trials."""
    if not examiner.enough:
        return []
    lines = [
        _share_line(code, share, words, fault)
        for code, share in examiner.shares.items()
        if share.finding and code != REJECTED
    ]
    lines += [number_line(name, number, words) for name, number in examiner.numbers.items() if number.finding]
    if examiner.ceiling is not None:
        lines.append(ceiling_line(examiner.ceiling, words, action))
    lines += [line for name, course in examiner.courses.items() for line in _course_lines(name, course, words)]
    return lines


def _share_line(code: str, share: Share, words: Words, fault: NameOf) -> str:
    found = share.found
    return words(
        "audit.share_line",
        fault=fault(code),
        count=found.count,
        trials=found.trials,
        share=Rounded(100.0 * found.share, 0),
        expected=Rounded(100.0 * found.expected, 0),
        advice=advice(code, words),
    )


def number_line(name: str, number: Number, words: Words) -> str:
    """Return one number of an examiner beside the others'."""
    found = number.found
    return words(
        "audit.number_line",
        number=number_name(name, words),
        median=Rounded(found.quartiles[1], 2),
        others=Rounded(found.others, 2),
        unit=NUMBER_UNITS[name],
    )


def ceiling_line(ceiling: Ceiling, words: Words, action: NameOf = plain_action) -> str:
    """Return what is said of a pile of plateaus."""
    return words(
        "audit.ceiling_line",
        count=ceiling.count,
        of=ceiling.of,
        force=Rounded(ceiling.force_n, 0),
        others=Rounded(ceiling.others_n, 0),
        actions=", ".join(action(each) for each in ceiling.actions),
    )


def _course_lines(name: str, course: Course, words: Words) -> Iterator[str]:
    """Say when an average left its limits; fewer rejected trials than expected are no news."""
    what = words("audit.rejected_share") if name == REJECTED else number_name(name, words)
    signals = [signal for signal in course.signals if signal.chart == "ewma"]
    for signal, after in zip_longest(signals, signals[1:]):
        if signal.change == "back" or (name == REJECTED and signal.change == "below"):
            continue
        until = words("audit.still") if after is None else words("audit.until", day=day(after.at_s))
        yield words(f"audit.over_time.{signal.change}", what=what, day=day(signal.at_s), until=until)


def sensor_lines(sensor: SensorAudit, words: Words) -> Iterator[str]:
    """Yield a sentence for each thing about a sensor that has moved."""
    for what, course in (("zero", sensor.zero), ("sensitivity", sensor.sensitivity)):
        out = [] if course is None else [s for s in course.signals if s.change != "back"]
        if out:
            moved = words(f"audit.sensor.{what}")
            yield words("audit.sensor.moved", sensor=sensor.sensor, what=moved, day=day(out[0].at_s))
