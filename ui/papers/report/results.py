"""The results by joint: for each action both sides, curve, bars, force and torque with uncertainty, difference."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np

from analysis.battery.actions import load_actions
from analysis.results.action_result import ActionResult, Value
from analysis.results.settings import Index
from analysis.results.sides import ErrorBasis, Finding, SideComparison
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import Protocol
from ui.model.review.marks import curve_of
from ui.papers.report.content import Bar, Bars, Column, Curve, Curves, Group, Notes, Row, Section, Table
from ui.papers.report.head import how
from ui.papers.report.occasion import Occasion
from ui.papers.report.order import Pair, joint_of, pairs_of
from ui.papers.report.sources import Sources
from ui.papers.report.wording import NO_INTERVAL, Wording
from ui.words.words import NOTHING

POINTS = 90
"""Of a small curve: finer than print can show."""

MARKS = {
    Finding.BEYOND_BOTH: "\u25b2",
    Finding.ERROR_NOT_KNOWN: "?",
    Finding.WITHIN_THRESHOLD: "\u2248",
    Finding.WITHIN_ERROR: "=",
}
"""What stands before a difference, whatever colour there is."""


def results(wording: Wording, occasion: Occasion, protocol: Protocol, sources: Sources) -> Section:
    """Return the results by joint."""
    summary = occasion.summary
    rows: list[Row | Group] = []
    for joint, found in groupby(pairs_of(summary.actions), key=lambda pair: joint_of(pair.action)):
        pairs = list(found)
        top = _top(pairs, occasion)
        rows.append(Group(title=joint_name(wording, joint)))
        rows += [_row(wording, occasion, pair, top) for pair in pairs]
    if not rows:
        return Section(title=wording("results.title"), blocks=(Notes(sentences=(wording("results.none"),)),))
    notes = [how(wording, occasion, protocol), *_legend(wording, occasion, sources)]
    return Section(
        title=wording("results.title"),
        blocks=(Table(columns=_columns(wording), rows=tuple(rows)), Notes(sentences=tuple(notes), small=True)),
    )


def joint_name(wording: Wording, joint: str) -> str:
    """Return what a joint is called; the word of a user's own action as it is."""
    try:
        return wording(f"joint.{joint}")
    except KeyError:
        return joint.capitalize() or wording("no_action")


def _value(occasion: Occasion, result: ActionResult) -> Value | None:
    return result.value(occasion.summary.settings.score.of)


def _reach(value: Value) -> float:
    """Return how far the whisker of a force reaches, N; 0 where its uncertainty is not known."""
    return value.force_budget.expanded if value.force_budget.complete else 0.0


def _top(pairs: Sequence[Pair], occasion: Occasion) -> float:
    """Return the longest bar of a joint with its whisker, N."""
    ends = [
        value.force_n + _reach(value)
        for pair in pairs
        for result in pair.results
        if (value := _value(occasion, result)) is not None
    ]
    bare = [value.force_n for pair in pairs for result in pair.results if (value := _value(occasion, result))]
    # a whisker as long as the bar, of two trials only, must not make all bars short
    return max([min(end, 1.6 * max(bare)) for end in ends], default=1.0) or 1.0


def _columns(wording: Wording) -> tuple[Column, ...]:
    unit = wording.unit.symbol
    return (
        Column(heading=wording("results.action"), width=118),
        Column(heading=wording("results.curve"), width=44),
        Column(heading=wording("results.bars", unit=unit), width=60),
        Column(heading=wording("results.side"), width=30),
        Column(heading=wording("results.force", unit=unit), width=54, number=True),
        Column(heading=wording("results.share"), width=34, number=True),
        Column(heading=wording("results.torque"), width=54, number=True),
        Column(heading=wording("results.torque_kg"), width=34, number=True),
        Column(heading=wording("results.trials"), width=36, number=True),
        Column(heading=wording("results.difference"), width=64),
    )


def _row(wording: Wording, occasion: Occasion, pair: Pair, top: float) -> Row:
    values = [_value(occasion, result) for result in pair.results]
    lines = [_numbers(wording, result, value) for result, value in zip(pair.results, values, strict=True)]
    return Row(
        cells=(
            _what(wording, occasion, pair),
            _curves(wording, occasion, pair),
            _bars(wording, pair, values, top),
            *("\n".join(cells) for cells in zip(*lines, strict=True)),
            _difference(wording, occasion, pair),
        )
    )


def _what(wording: Wording, occasion: Occasion, pair: Pair) -> str:
    """Return action, position, what held the sensor, and where the pad was."""
    known = load_actions().get(pair.action or "")
    position = [wording(f"position.{known.position}")] if known else []
    held = [*position, wording.words(f"test.{pair.method}"), *([pair.sensor] if pair.sensor else [])]
    arms = dict.fromkeys(_lever_arm(wording, occasion, result) for result in pair.results)
    lever = wording("results.lever", arms=" / ".join(arms)) if any(arms) else wording("results.no_lever")
    return f"{wording.action(pair.action)}\n{', '.join(held)}, {lever}"


def _lever_arm(wording: Wording, occasion: Occasion, result: ActionResult) -> str:
    """Return the lever arms of all trials of a set, cm; nothing when none is known."""
    numbers = {*result.set.used, *(each.trial for each in result.set.unused)}
    arms = {occasion.trials[number - 1].trial.context.lever_arm_m for number in numbers}
    known = sorted(arm for arm in arms if arm is not None)
    ends = dict.fromkeys(wording.number(100.0 * arm, 1) for arm in known[:1] + known[-1:])
    return "\u2013".join(ends)


def _numbers(wording: Wording, result: ActionResult, value: Value | None) -> tuple[str, ...]:
    used = len(result.set.used)
    count = f"{used}/{used + len(result.set.unused)}"
    side = NOTHING if result.side is None else wording(f"side.{result.side}")
    if value is None:
        return (side, wording("results.nothing"), NOTHING, NOTHING, NOTHING, count)
    return (
        side,
        wording.with_uncertainty(value.force_n, value.force_budget, newtons=True),
        wording.number(value.body.pct_body_weight, 1),
        wording.with_uncertainty(value.torque_nm, value.torque_budget),
        wording.number(value.body.nm_per_kg, 2),
        count + ("" if result.set.complete else "!"),
    )


def _bars(wording: Wording, pair: Pair, values: Sequence[Value | None], top: float) -> Bars:
    bars = tuple(
        Bar(
            label=wording.force(value.force_n),
            value=value.force_n,
            reach=_reach(value),
            hatched=result.side == "right",
        )
        if value is not None
        else Bar(label=wording("results.nothing"), value=0.0, hatched=result.side == "right")
        for result, value in zip(pair.results, values, strict=True)
    )
    told = ", ".join(
        f"{wording.side(result.side)} {bar.label} {wording.unit.symbol}"
        for result, bar in zip(pair.results, bars, strict=True)
    )
    return Bars(bars=bars, top=top, about=f"{wording.action(pair.action)}: {told}")


def _curves(wording: Wording, occasion: Occasion, pair: Pair) -> Curves:
    chosen = [(result, judged) for result in pair.results if (judged := _shown(occasion, result)) is not None]
    thinned = [_thinned(judged) for _, judged in chosen]
    top = max((float(np.nanmax(force)) for _, force in thinned), default=1.0) or 1.0
    numbers = ", ".join(str(judged.number) for _, judged in chosen) or NOTHING
    return Curves(
        curves=tuple(
            Curve(
                seconds=tuple(np.round(seconds, 3).tolist()),
                share=tuple(np.round(force / top, 4).tolist()),
                dashed=result.side == "right",
            )
            for (result, _), (seconds, force) in zip(chosen, thinned, strict=True)
        ),
        about=wording("results.curve_about", what=wording.action(pair.action), trials=numbers),
    )


def _shown(occasion: Occasion, result: ActionResult) -> JudgedTrial | None:
    """Return the trial whose curve is shown: the best one that counts."""
    number = None if result.force is None else result.force.best_trial
    return None if number is None else occasion.trials[number - 1]


def _thinned(judged: JudgedTrial) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], ...]:
    """Return seconds and newtons of the shown span as so many points, each the mean of its stretch."""
    curve = curve_of(judged)
    inside = (curve.time >= curve.span[0]) & (curve.time <= curve.span[1]) & ~np.isnan(curve.force)
    time, force = curve.time[inside], curve.force[inside]
    cuts = np.array_split(np.arange(len(time)), min(POINTS, len(time)))
    return np.array([time[cut].mean() for cut in cuts]), np.array([force[cut].mean() for cut in cuts])


def _difference(wording: Wording, occasion: Occasion, pair: Pair) -> str:
    found = next(
        (each for each in occasion.summary.sides if (each.action, each.method) == (pair.action, pair.method)), None
    )
    if found is None:
        return NOTHING
    if found.difference_pct is None:
        return wording("difference.none", why=wording.listed("lacks", tuple(each.value for each in found.missing)))
    return f"{MARKS[found.finding]} {_size(wording, found)}"


def _size(wording: Wording, found: SideComparison) -> str:
    budget = found.uncertainty
    size = wording.with_uncertainty(found.difference_pct, budget, unit=" %")
    if found.symmetry_pct is not None:
        size = wording("difference.symmetry", size=size, symmetry=wording.number(found.symmetry_pct, 0))
    if not found.beyond_error or found.weaker is None:
        return size
    return wording("difference.is", size=size, weaker=wording(f"side.{found.weaker}"))


def _index(occasion: Occasion) -> Index:
    affected = occasion.session.context.person.affected_side
    return occasion.summary.settings.sides.index if affected is None else Index.REFERENCE


def _side_errors(wording: Wording, occasion: Occasion, sources: Sources) -> Iterator[str]:
    """Yield what a difference was held against, where that is a detectable change between sessions."""
    for each in occasion.summary.sides:
        if each.error_basis is not ErrorBasis.DETECTABLE_CHANGE:
            continue
        known = occasion.side_errors[each.action or "", each.method]
        if known.published is not None:
            whose = sources.cite(known.published.source)
        else:
            whose = wording("changes.own", persons=known.persons)
        points = wording.number(known.points, 0)
        yield wording("legend.side_error", what=wording.action(each.action), points=points, whose=whose)


def _legend(wording: Wording, occasion: Occasion, sources: Sources) -> Iterator[str]:
    summary = occasion.summary
    settings, actions = summary.settings.sides, summary.actions
    if any(mark for each in actions if (value := _value(occasion, each)) for mark in [not value.force_budget.complete]):
        yield wording("legend.no_interval", mark=NO_INTERVAL)
    if any(not each.set.complete for each in actions if each.best):
        yield wording("legend.incomplete")
    if not any(each.difference_pct is not None for each in summary.sides):
        return
    yield wording(
        "legend.difference",
        index=wording(f"index.{_index(occasion).value}"),
        threshold=wording.number(settings.threshold_pct, 0),
        beyond=MARKS[Finding.BEYOND_BOTH],
        unknown=MARKS[Finding.ERROR_NOT_KNOWN],
        small=MARKS[Finding.WITHIN_THRESHOLD],
        within=MARKS[Finding.WITHIN_ERROR],
    )
    affected = occasion.session.context.person.affected_side
    yield (
        wording("legend.symmetry")
        if affected is None
        else wording("legend.symmetry_affected", side=wording.side(affected))
    )
    yield from _side_errors(wording, occasion, sources)
    pooled = {each.pooled for each in actions if each.pooled is not None}
    if pooled:
        yield wording(
            "legend.pooled",
            sets=max(each.sets for each in pooled),
            low=wording.number(min(each.cv_pct for each in pooled), 1),
            high=wording.number(max(each.cv_pct for each in pooled), 1),
        )
    yield wording(
        "legend.normal",
        low=wording.number(settings.normal_low_pct, 0),
        high=wording.number(settings.normal_high_pct, 0),
        source=sources.cite(settings.normal_source),
    )
