"""A whole session in numbers: every action and side, sides against each other, ratios within a joint.

What is not known leaves a gap with a name (`analysis.results.missing.Missing`), and all that does not depend on it is
there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

import msgspec

from acquire.values.records import Method, Person, SessionContext, Side
from analysis.results.action_result import ActionResult, action_result, known
from analysis.results.missing import Missing, lacking
from analysis.results.pooled_spread import Kind, PooledSpread, pooled_for, pooled_spreads
from analysis.results.ratios import Pair, RatioResult, ratio
from analysis.results.settings import ResultSettings
from analysis.results.sides import SideComparison, compare_sides
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import Protocol

SIDES: tuple[Side, Side] = ("left", "right")


class SessionSummary(msgspec.Struct, frozen=True, kw_only=True):
    """One session in numbers."""

    context: SessionContext
    protocol: str
    protocol_hash: str
    """What the trials were judged by."""
    settings: ResultSettings
    actions: tuple[ActionResult, ...]
    """In the order in which they were first tried; by hand and by belt apart, and two sensors on one effort apart."""
    sides: tuple[SideComparison, ...]
    """Each action that was tried on a named side, by each method."""
    ratios: tuple[RatioResult, ...]
    """Each pair of which both actions were tried, on each side where one was."""
    missing: tuple[Missing, ...]
    """What is not known of the person."""

    def find(self, action: str, side: Side | None) -> ActionResult | None:
        """Return the result of an action and side: that by belt where both methods have trials that count."""
        return usual(self.actions, action, side)


def summarise(
    context: SessionContext,
    trials: Sequence[JudgedTrial],
    *,
    protocol: Protocol,
    settings: ResultSettings,
    pairs: Sequence[Pair] = (),
    affected: Side | None = None,
    detectable_pct: Mapping[tuple[str, Method], float] | None = None,
    others: Iterable[ActionResult] = (),
) -> SessionSummary:
    """Return a session in numbers.

    Parameters
    ----------
    context : SessionContext
        The person and the day.
    trials : sequence of JudgedTrial
        All trials, those set aside too, judged by `protocol`.
    protocol : Protocol
        When a set is complete.
    settings : ResultSettings
        Limits of error, the score, how sides are compared.
    pairs : sequence of Pair
        The ratios wanted, see `analysis.results.ratios.load_pairs`.
    affected : str, optional
        The side that is injured or ill, where one is: the other is then what it is compared with, whatever the settings
        say. Left out, it is that of the person in `context`.
    detectable_pct : mapping, optional
        Minimal detectable change of the side index by action and method, percentage points.
    others : iterable of ActionResult
        Of other sessions, scored alike: how much trials of a set differ is pooled over these and the session's own.

    Returns
    -------
    SessionSummary
        A session without trials has no actions; nothing is raised for what is missing.
    """
    person = context.person
    groups, day = _groups(trials), context.started.date()

    def results(pool: Mapping[Kind, PooledSpread]) -> tuple[ActionResult, ...]:
        return tuple(
            action_result(
                group,
                person=person,
                day=day,
                rule=protocol.set,
                settings=settings,
                pooled=pooled_for(pool, group[0].trial.context.action, group[0].trial.context.method),
            )
            for group in groups
        )

    alone = results({})
    pool = pooled_spreads((*alone, *others))
    actions = results(pool) if pool else alone
    affected = affected or person.affected_side
    return SessionSummary(
        context=context,
        protocol=protocol.name,
        protocol_hash=protocol.hash,
        settings=settings,
        actions=actions,
        sides=tuple(_sides(actions, settings, _Limbs(person.dominant_side, affected), detectable_pct or {})),
        ratios=tuple(_ratios(actions, pairs, person, settings)),
        missing=_missing(person),
    )


def usual(actions: Sequence[ActionResult], action: str | None, side: Side | None) -> ActionResult | None:
    """Return the result that stands for an action and side; None without one.

    Where there are several, those with accepted trials come first, then those by belt, then those of the first sensor.

    Parameters
    ----------
    actions : sequence of ActionResult
        The results of a session, in order.
    action, side : str or None
        As in the context of the trials.

    Examples
    --------
    >>> import datetime as dt
    >>> from dataclasses import replace
    >>> from acquire.values.records import Session, SessionContext, TrialContext
    >>> from analysis.stored.traces import read_trials
    >>> from analysis.stored.results import summarise_session
    >>> from analysis.trial.protocol import load_protocol
    >>> (left,) = read_trials("sample_traces/good.csv")
    >>> left = replace(left, context=TrialContext(action="knee-extension", side="left"))
    >>> right = replace(left, counts=0.8 * left.counts, context=TrialContext(action="knee-extension", side="right"))
    >>> context = SessionContext(session="s-1", started=dt.datetime(2026, 3, 2, tzinfo=dt.UTC))
    >>> session = Session(context=context, trials=(left, right))
    >>> actions = summarise_session(session, load_protocol()).actions
    >>> usual(actions, "knee-extension", "right").side, usual(actions, "hip-flexion", "right")
    ('right', None)
    """
    found = [each for each in actions if (each.action, each.side) == (action, side)]
    return max(found, key=lambda each: (each.best is not None, each.method == "belt"), default=None)


class _Limbs(NamedTuple):
    dominant: Side | None
    affected: Side | None


def _groups(trials: Sequence[JudgedTrial]) -> list[list[JudgedTrial]]:
    groups: dict[tuple[str | None, Side | None, Method, str | None], list[JudgedTrial]] = {}
    for each in trials:
        context = each.trial.context
        groups.setdefault((context.action, context.side, context.method, context.sensor), []).append(each)
    return list(groups.values())


def _sides(
    actions: Sequence[ActionResult],
    settings: ResultSettings,
    limbs: _Limbs,
    detectable: Mapping[tuple[str, Method], float],
) -> Iterator[SideComparison]:
    for action, method in dict.fromkeys((each.action, each.method) for each in actions if each.side is not None):
        alike = [each for each in actions if each.method == method]
        left, right = (usual(alike, action, side) for side in SIDES)
        found = compare_sides(
            left,
            right,
            settings=settings,
            reference=limbs.dominant,
            affected=limbs.affected,
            detectable_pct=detectable.get((action or "", method)),
        )
        if Missing.OTHER_SIDE in found.missing and usual(actions, action, "right" if right is None else "left"):
            found = msgspec.structs.replace(found, missing=(*found.missing, Missing.SAME_METHOD))
        yield found


def _ratios(
    actions: Sequence[ActionResult], pairs: Sequence[Pair], person: Person, settings: ResultSettings
) -> Iterator[RatioResult]:
    there = {each.action for each in actions}
    for pair in pairs:
        if not {pair.numerator, pair.denominator} <= there:
            continue
        for side in (*SIDES, None):
            upper, lower = usual(actions, pair.numerator, side), usual(actions, pair.denominator, side)
            if upper or lower:
                yield ratio(pair, side, upper, lower, person=person, settings=settings)


def _missing(person: Person) -> tuple[Missing, ...]:
    return lacking(
        {
            Missing.MASS: known(person.mass_kg) is None,
            Missing.HEIGHT: known(person.height_m) is None,
            Missing.SEX: person.sex is None,
            Missing.AGE: person.age_years is None,
            Missing.DOMINANT_SIDE: person.dominant_side is None,
        }
    )
