"""The results by joint: for each action both sides, curve, bars, force and torque with uncertainty, difference."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from acquire.records import Method
from analysis.action_result import ActionResult, Value
from analysis.actions import load_actions
from analysis.protocol import Protocol
from analysis.set_result import Tried
from analysis.sides import Finding, SideComparison
from analysis.summary import SIDES
from ui.judged import JudgedTrial
from ui.model.marks import curve_of
from ui.model.review_text import NOTHING
from ui.report.content import Bar, Bars, Column, Curve, Curves, Group, Notes, Row, Section, Table
from ui.report.head import how
from ui.report.occasion import Occasion
from ui.report.pen import AT_LEAST, Pen
from ui.report.sources import Sources

POINTS = 90
"""Of a small curve: finer than print can show."""

MARKS = {Finding.BEYOND_BOTH: "\u25b2", Finding.ERROR_NOT_KNOWN: "?", Finding.WITHIN_THRESHOLD: "\u2248", Finding.WITHIN_ERROR: "="}
"""What stands before a difference, whatever colour there is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """The results of one action, by one method and one sensor: those of the sides, or one without a side."""

    action: str | None
    method: Method
    sensor: str | None
    results: tuple[ActionResult, ...]


def results(pen: Pen, occasion: Occasion, protocol: Protocol, sources: Sources) -> Section:
    """Return the results by joint."""
    summary = occasion.summary
    rows: list[Row | Group] = []
    for joint, found in groupby(_pairs(summary.actions), key=lambda pair: joint_of(pair.action)):
        pairs = list(found)
        top = _top(pairs, occasion)
        rows.append(Group(title=joint_name(pen, joint)))
        rows += [_row(pen, occasion, pair, top) for pair in pairs]
    if not rows:
        return Section(title=pen("results.title"), blocks=(Notes(sentences=(pen("results.none"),)),))
    notes = [how(pen, occasion, protocol), *_legend(pen, occasion, sources)]
    return Section(
        title=pen("results.title"),
        blocks=(Table(columns=_columns(pen), rows=tuple(rows)), Notes(sentences=tuple(notes))),
    )


def joint_of(action: str | None) -> str:
    """Return the joint that an action moves: the first word of its key.

    Examples
    --------
    >>> joint_of("knee-extension"), joint_of(None)
    ('knee', '')
    """
    return (action or "").partition("-")[0]


def joint_name(pen: Pen, joint: str) -> str:
    """Return what a joint is called; the word of a user's own action as it is."""
    try:
        return pen(f"joint.{joint}")
    except KeyError:
        return joint.capitalize() or pen("no_action")


def _pairs(actions: Sequence[ActionResult]) -> list[Pair]:
    """Return the results, those of one action together, in the order of the actions' file."""
    groups: dict[tuple[str | None, Method, str | None], list[ActionResult]] = {}
    for each in actions:
        groups.setdefault((each.action, each.method, each.sensor), []).append(each)
    order = list(load_actions())
    joints = list(dict.fromkeys([joint_of(key) for key in order] + [joint_of(each.action) for each in actions]))
    pairs = [
        Pair(action=action, method=method, sensor=sensor, results=tuple(sorted(found, key=_by_side)))
        for (action, method, sensor), found in groups.items()
    ]
    return sorted(
        pairs,
        key=lambda pair: (
            joints.index(joint_of(pair.action)),
            order.index(pair.action) if pair.action in order else len(order),
        ),
    )


def _by_side(result: ActionResult) -> int:
    return len(SIDES) if result.side is None else SIDES.index(result.side)


def _value(occasion: Occasion, result: ActionResult) -> Value | None:
    return result.value(occasion.summary.settings.score.of)


def _top(pairs: Sequence[Pair], occasion: Occasion) -> float:
    """Return the longest bar of a joint with its whisker, N."""
    ends = [
        value.force_n + value.force_budget.expanded
        for pair in pairs
        for result in pair.results
        if (value := _value(occasion, result)) is not None
    ]
    bare = [value.force_n for pair in pairs for result in pair.results if (value := _value(occasion, result))]
    # a whisker as long as the bar, of two trials only, must not make all bars short
    return max([min(end, 1.6 * max(bare)) for end in ends], default=1.0) or 1.0


def _columns(pen: Pen) -> tuple[Column, ...]:
    unit = pen.unit.symbol
    return (
        Column(heading=pen("results.action"), width=92),
        Column(heading=pen("results.curve"), width=62),
        Column(heading=pen("results.bars", unit=unit), width=80),
        Column(heading=pen("results.side"), width=26),
        Column(heading=pen("results.force", unit=unit), width=54, number=True),
        Column(heading=pen("results.share"), width=32, number=True),
        Column(heading=pen("results.torque"), width=54, number=True),
        Column(heading=pen("results.torque_kg"), width=34, number=True),
        Column(heading=pen("results.trials"), width=32, number=True),
        Column(heading=pen("results.difference"), width=62),
    )


def _row(pen: Pen, occasion: Occasion, pair: Pair, top: float) -> Row:
    values = [_value(occasion, result) for result in pair.results]
    lines = [_numbers(pen, result, value) for result, value in zip(pair.results, values, strict=True)]
    return Row(
        cells=(
            _what(pen, pair),
            _curves(pen, occasion, pair),
            _bars(pen, pair, values, top),
            *("\n".join(cells) for cells in zip(*lines, strict=True)),
            _difference(pen, occasion, pair),
        )
    )


def _what(pen: Pen, pair: Pair) -> str:
    """Return action, position, what held the sensor, and where the pad was."""
    known = load_actions().get(pair.action or "")
    position = [pen(f"position.{known.position}")] if known else []
    held = [*position, pen.words(f"test.{pair.method}"), *([pair.sensor] if pair.sensor else [])]
    arms = [_lever_arm(pen, result) for result in pair.results]
    lever = pen("results.lever", arms=" / ".join(dict.fromkeys(arms)))
    return f"{pen.action(pair.action)}\n{', '.join(held)}; {lever}"


def _lever_arm(pen: Pen, result: ActionResult) -> str:
    arms = sorted({each.lever_arm_m for each in result.trials if each.lever_arm_m is not None})
    return "\u2013".join(pen.number(100.0 * arm, 1) for arm in arms[:: max(1, len(arms) - 1)]) or "?"


def _numbers(pen: Pen, result: ActionResult, value: Value | None) -> tuple[str, ...]:
    used = len(result.set.used)
    count = f"{used}/{used + len(result.set.unused)}"
    side = NOTHING if result.side is None else pen(f"side.{result.side}")
    if value is None:
        return (side, pen("results.nothing"), NOTHING, NOTHING, NOTHING, count)
    return (
        side,
        pen.with_uncertainty(value.force_n, value.force_budget, newtons=True),
        pen.number(value.body.pct_body_weight, 1),
        pen.with_uncertainty(value.torque_nm, value.torque_budget),
        pen.number(value.body.nm_per_kg, 2),
        count + ("" if result.set.complete else "!"),
    )


def _bars(pen: Pen, pair: Pair, values: Sequence[Value | None], top: float) -> Bars:
    bars = tuple(
        Bar(
            label=pen.force(value.force_n),
            value=value.force_n,
            reach=value.force_budget.expanded,
            hatched=result.side == "right",
        )
        if value is not None
        else Bar(label=pen("results.nothing"), value=0.0, hatched=result.side == "right")
        for result, value in zip(pair.results, values, strict=True)
    )
    told = ", ".join(
        f"{pen.side(result.side)} {bar.label} {pen.unit.symbol}" for result, bar in zip(pair.results, bars, strict=True)
    )
    return Bars(bars=bars, top=top, about=f"{pen.action(pair.action)}: {told}")


def _curves(pen: Pen, occasion: Occasion, pair: Pair) -> Curves:
    chosen = [(result, tried) for result in pair.results if (tried := _shown(occasion, result)) is not None]
    thinned = [_thinned(tried) for _, tried in chosen]
    top = max((float(np.nanmax(force)) for _, force in thinned), default=1.0) or 1.0
    numbers = ", ".join(str(tried.number) for _, tried in chosen) or NOTHING
    return Curves(
        curves=tuple(
            Curve(
                seconds=tuple(np.round(seconds, 3).tolist()),
                share=tuple(np.round(force / top, 4).tolist()),
                dashed=result.side == "right",
            )
            for (result, _), (seconds, force) in zip(chosen, thinned, strict=True)
        ),
        about=pen("results.curve_about", what=pen.action(pair.action), trials=numbers),
    )


def _shown(occasion: Occasion, result: ActionResult) -> Tried | None:
    """Return the trial whose curve is shown: the best one that counts."""
    number = None if result.force is None else result.force.best_trial
    return None if number is None else occasion.tried[number - 1]


def _thinned(tried: Tried) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], ...]:
    """Return seconds and newtons of the shown span as so many points, each the mean of its stretch."""
    curve = curve_of(JudgedTrial(trial=tried.trial, judgement=tried.judgement))
    inside = (curve.time >= curve.span[0]) & (curve.time <= curve.span[1]) & ~np.isnan(curve.force)
    time, force = curve.time[inside], curve.force[inside]
    cuts = np.array_split(np.arange(len(time)), min(POINTS, len(time)))
    return np.array([time[cut].mean() for cut in cuts]), np.array([force[cut].mean() for cut in cuts])


def _difference(pen: Pen, occasion: Occasion, pair: Pair) -> str:
    found = next(
        (each for each in occasion.summary.sides if (each.action, each.method) == (pair.action, pair.method)), None
    )
    if found is None:
        return NOTHING
    if found.difference_pct is None:
        return pen("difference.none", why=pen.listed("lacks", tuple(each.value for each in found.missing)))
    return f"{MARKS[found.finding]} {_size(pen, found)}"


def _size(pen: Pen, found: SideComparison) -> str:
    budget = found.uncertainty
    size = pen.with_uncertainty(found.difference_pct, budget)
    weaker = pen(f"side.{found.weaker}") if found.weaker else NOTHING
    quantity = pen(f"quantity.{found.quantity.value}") if found.quantity else NOTHING
    return pen("difference.is", size=size, weaker=weaker, quantity=quantity)


def _legend(pen: Pen, occasion: Occasion, sources: Sources) -> Iterator[str]:
    summary = occasion.summary
    settings, actions = summary.settings.sides, summary.actions
    if any(mark for each in actions if (value := _value(occasion, each)) for mark in [not value.force_budget.complete]):
        yield pen("legend.at_least", mark=AT_LEAST)
    if any(not each.set.complete for each in actions if each.best):
        yield pen("legend.incomplete")
    if not any(each.difference_pct is not None for each in summary.sides):
        return
    yield pen(
        "legend.difference",
        index=pen(f"index.{settings.index.value}"),
        threshold=pen.number(settings.threshold_pct, 0),
        beyond=MARKS[Finding.BEYOND_BOTH],
        unknown=MARKS[Finding.ERROR_NOT_KNOWN],
        small=MARKS[Finding.WITHIN_THRESHOLD],
        within=MARKS[Finding.WITHIN_ERROR],
    )
    yield pen(
        "legend.normal",
        low=pen.number(settings.normal_low_pct, 0),
        high=pen.number(settings.normal_high_pct, 0),
        source=sources.cite(settings.normal_source),
    )

