"""One action of one side, by one method: from its trials to force, torque, size of body and their uncertainty."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from datetime import date

import msgspec

from acquire.values.calibration import Calibration, CalibrationState
from acquire.values.records import Method, Person, Side
from analysis.results.body_size import RelativeToBody, relative_to_body
from analysis.results.force_budget import force_components, repeatability, torque_components
from analysis.results.missing import Missing, lacking
from analysis.results.pooled_spread import PooledSpread
from analysis.results.reading import Reading, distinct, mean_reading, read
from analysis.results.set_result import SetResult, set_result
from analysis.results.settings import ResultSettings, ScoreOf, TrialScore
from analysis.results.spread import Spread, spread
from analysis.statistics.uncertainty import Budget, budget
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import SetRule


class Quantity(enum.StrEnum):
    """What is compared."""

    FORCE = "force"
    TORQUE = "torque"


class TrialNumbers(msgspec.Struct, frozen=True, kw_only=True):
    """One trial that counts, in newtons and newton metres."""

    trial: int
    force_n: float
    """Its score without the limb's weight."""
    weight_n: float | None
    """What was taken off for the limb; None when no resting force was recorded."""
    lever_arm_m: float | None
    torque_nm: float | None
    force_budget: Budget
    torque_budget: Budget | None


class Value(msgspec.Struct, frozen=True, kw_only=True):
    """The score of a set: the best of its trials, their mean, or their median."""

    force_n: float
    torque_nm: float | None
    body: RelativeToBody
    force_budget: Budget
    """With what differs from trial to trial."""
    torque_budget: Budget | None

    def of(self, quantity: Quantity) -> tuple[float, Budget] | None:
        """Return force or torque with its budget; None for a torque that is not known."""
        if quantity is Quantity.FORCE:
            return self.force_n, self.force_budget
        return None if self.torque_nm is None or self.torque_budget is None else (self.torque_nm, self.torque_budget)


class ActionResult(msgspec.Struct, frozen=True, kw_only=True):
    """One action of one side, by one method, as one sensor saw it."""

    action: str | None
    side: Side | None
    method: Method
    sensor: str | None
    """Which sensor, where the session had two: each saw the effort for itself."""
    set: SetResult
    trials: tuple[TrialNumbers, ...]
    """Those that count."""
    force: Spread | None
    """Scores without the limb's weight, N."""
    torque: Spread | None
    """Of the trials with a lever arm, N m."""
    best: Value | None
    mean: Value | None
    median: Value | None
    pooled: PooledSpread | None = None
    """How much single trials differ, from many sets, where the repeatability is worked out from that."""
    calibrations: tuple[Calibration, ...]
    """The different ones its trials were measured with."""
    missing: tuple[Missing, ...]

    def value(self, of: ScoreOf) -> Value | None:
        """Return what stands for the set; None when no trial counts."""
        return {ScoreOf.BEST: self.best, ScoreOf.MEAN: self.mean, ScoreOf.MEDIAN: self.median}[of]


def action_result(
    trials: Sequence[JudgedTrial],
    *,
    person: Person,
    day: date,
    rule: SetRule,
    settings: ResultSettings,
    pooled: PooledSpread | None = None,
) -> ActionResult:
    """Return what the trials of one action, side and method come to.

    Parameters
    ----------
    trials : sequence of JudgedTrial
        At least one; all of the same action, side and method.
    person : Person
        Mass and height, where they are known.
    day : date
        When they were recorded, for the calibration.
    rule : SetRule
        When a set is complete.
    settings : ResultSettings
        Limits of error, gravity, coverage, and what the score is.
    pooled : PooledSpread, optional
        How much single trials differ, from many sets: see `analysis.results.pooled_spread`.

    Raises
    ------
    ValueError
        If there is no trial.

    Examples
    --------
    >>> import datetime as dt
    >>> from analysis.results.settings import load_result_settings
    >>> from dataclasses import replace
    >>> from acquire.values.records import TrialContext
    >>> from analysis.stored.traces import read_trials
    >>> from analysis.trial.judged_trial import judge_trial
    >>> from analysis.trial.protocol import load_protocol
    >>> knee = TrialContext(action="knee-extension", side="left", lever_arm_m=0.3)
    >>> (trial,) = read_trials("sample_traces/good.csv")
    >>> judged = judge_trial(replace(trial, context=knee), load_protocol(), number=1)
    >>> rule, day = load_protocol().set, dt.date(2026, 3, 2)
    >>> settings = load_result_settings()
    >>> result = action_result([judged], person=Person(mass_kg=70.0), day=day, rule=rule, settings=settings)
    >>> result.action, round(result.torque.best, 1)
    ('knee-extension', 75.6)
    """
    if not trials:
        raise ValueError("trials must hold at least one trial, got none")
    context = trials[0].trial.context
    readings = _readings(trials, settings.score.trial)
    summed = set_result(trials, rule)
    force = _spread({number: each.force_n for number, each in readings.items()})
    torque = _spread({n: each.torque_nm for n, each in readings.items() if each.torque_nm is not None})
    used = pooled if pooled is not None and force is not None and pooled.fits(force) else None
    values = {
        of: _value(readings, force, torque, person=person, settings=settings, of=of, pooled=used)
        for of in ScoreOf
        if force
    }
    return ActionResult(
        action=context.action,
        side=context.side,
        method=context.method,
        sensor=context.sensor,
        set=summed,
        trials=tuple(_numbers(number, each, settings) for number, each in readings.items()),
        force=force,
        torque=torque,
        best=values.get(ScoreOf.BEST),
        mean=values.get(ScoreOf.MEAN),
        median=values.get(ScoreOf.MEDIAN),
        pooled=used,
        calibrations=distinct(list(readings.values())),
        missing=_missing(trials, list(readings.values()), person, day, used),
    )


def known(value: float | None) -> float | None:
    """Return a size that can be divided by; None for one that is not known, or not above 0.

    Examples
    --------
    >>> known(0.0) is None, known(64.0)
    (True, 64.0)
    """
    return value if value is not None and value > 0.0 else None


def _spread(values: dict[int, float]) -> Spread | None:
    return spread(tuple(values), tuple(values.values())) if values else None


def _value(
    readings: dict[int, Reading],
    force: Spread,
    torque: Spread | None,
    *,
    person: Person,
    settings: ResultSettings,
    of: ScoreOf,
    pooled: PooledSpread | None,
) -> Value:
    push, level = _standing(readings, force, of), settings.coverage.level_pct
    forces = (*force_components(push, settings), repeatability(force, of=of, unit="N", pooled=pooled))
    torque_nm, torque_budget = None, None
    if torque is not None:
        turn = _standing(readings, torque, of)
        torque_nm = _of(torque, of)
        torques = torque_components(force_components(turn, settings), turn, settings)
        torque_budget = budget((*torques, repeatability(torque, of=of, unit="N m", pooled=pooled)), level_pct=level)
    return Value(
        force_n=push.force_n,
        torque_nm=torque_nm,
        body=relative_to_body(
            push.force_n,
            torque_nm,
            mass_kg=known(person.mass_kg),
            height_m=known(person.height_m),
            gravity_m_s2=settings.body_weight.gravity_m_s2,
            exponent=settings.allometry.exponent,
        ),
        force_budget=budget(forces, level_pct=level),
        torque_budget=torque_budget,
    )


def _standing(readings: dict[int, Reading], values: Spread, of: ScoreOf) -> Reading:
    """Return the reading behind the score of a set: of its best trial, of the middle ones, or the mean of all."""
    return mean_reading([readings[number] for number in values.behind(of)])


def _of(values: Spread, of: ScoreOf) -> float | None:
    return {ScoreOf.BEST: values.best, ScoreOf.MEAN: values.mean, ScoreOf.MEDIAN: values.median}[of]


def _readings(trials: Sequence[JudgedTrial], score: TrialScore) -> dict[int, Reading]:
    found = {each.number: read(each, score) for each in trials if each.counts}
    return {number: reading for number, reading in found.items() if reading is not None}


def _numbers(number: int, reading: Reading, settings: ResultSettings) -> TrialNumbers:
    forces, level = force_components(reading, settings), settings.coverage.level_pct
    torque = reading.torque_nm
    return TrialNumbers(
        trial=number,
        force_n=reading.force_n,
        weight_n=reading.weight_n,
        lever_arm_m=reading.lever_arm_m,
        torque_nm=torque,
        force_budget=budget(forces, level_pct=level),
        torque_budget=None if torque is None else budget(torque_components(forces, reading, settings), level_pct=level),
    )


def _missing(
    trials: Sequence[JudgedTrial], readings: Sequence[Reading], person: Person, day: date, pooled: PooledSpread | None
) -> tuple[Missing, ...]:
    context = trials[0].trial.context
    codes = {fault.code for each in trials if each.counts for fault in each.judgement.faults}
    states = {calibration.state(day) for calibration in distinct(readings)}
    return lacking(
        {
            Missing.ACTION: context.action is None,
            Missing.SIDE: context.side is None,
            Missing.ACCEPTED_TRIAL: not any(each.counts for each in trials),
            Missing.LONG_EFFORT: len(readings) < sum(each.counts for each in trials),
            Missing.SECOND_TRIAL: len(readings) == 1 and pooled is None,
            Missing.FORCE: any(each.force_n <= 0.0 for each in readings),
            Missing.LEVER_ARM: any(each.lever_arm_m is None for each in readings),
            Missing.BELT: "examiner-limit" in codes,
            Missing.MASS: known(person.mass_kg) is None,
            Missing.HEIGHT: known(person.height_m) is None,
            Missing.ZERO_BEFORE: any(each.noise_n is None for each in readings),
            Missing.ZERO_AFTER: any(each.zero_shift_n is None for each in readings),
            Missing.CALIBRATION: CalibrationState.MISSING in states,
            Missing.CURRENT_CALIBRATION: CalibrationState.EXPIRED in states,
            Missing.LARGER_LOAD: any(_beyond_loads(each) for each in readings),
        }
    )


def _beyond_loads(reading: Reading) -> bool:
    """Tell whether a force is above every load of a calibration that names its loads."""
    largest = [max(abs(point.load_n) for point in each.points) for each in reading.calibrations if each.points]
    return any(reading.force_n > load for load in largest)
