"""The uncertainty of a score and of its torque, source by source.

==========================  ===============================================================================
`known-loads`               how far the loads of the calibration may be from what was typed in
`calibration-sensitivity`   slope of the calibration line (JCGM 100:2008, H.3)
`calibration-residuals`     scatter of its points about the line: what a straight line does not follow
`sensor-repeatability`      how the sensitivity differs when the sensor is loaded once more, by the runs of its check
`hysteresis`, `creep`       of the check, for a force that is no fresh rise, and that is held
`zero-drift`                the zero lay somewhere between that before and that after the effort
`noise`                     of the sensor at rest, carried to the mean over the stretch that is the score
`resolution`                one step of the sensor (F.2.2.1)
`pad-angle`                 the push is not exactly along the axis of the sensor
`resting-force`             the limb's weight, where it was taken off
`lever-arm`                 for torque
`repeatability`             for a set: from trial to trial, whatever the reason
==========================  ===============================================================================

A calibration from a check carries the uncertainty of its sensitivity, the known loads in it. One that has points alone
has it from their scatter, and then the known loads are a component of their own.

Zero, noise and angle differ from trial to trial and so show in the repeatability too; they are kept all the same,
for they are small beside it and a single trial has nothing else.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator, Sequence

from acquire.values.calibration import Calibration, CalibrationUncertainty, residuals
from analysis.results.pooled_spread import PooledSpread
from analysis.results.reading import Reading
from analysis.results.settings import ResultSettings, ScoreOf
from analysis.results.spread import Spread
from analysis.statistics.uncertainty import (
    Component,
    Distribution,
    Unknown,
    from_angle,
    from_limits,
    from_readings,
    from_standard,
    scaled,
    unknown,
)


class Source(enum.StrEnum):
    """What an error comes from."""

    KNOWN_LOADS = "known-loads"
    SENSITIVITY = "calibration-sensitivity"
    RESIDUALS = "calibration-residuals"
    SENSOR_REPEATABILITY = "sensor-repeatability"
    HYSTERESIS = "hysteresis"
    CREEP = "creep"
    ZERO_DRIFT = "zero-drift"
    NOISE = "noise"
    RESOLUTION = "resolution"
    PAD_ANGLE = "pad-angle"
    RESTING_FORCE = "resting-force"
    LEVER_ARM = "lever-arm"
    REPEATABILITY = "repeatability"


OF_THE_SCALE = frozenset({Source.KNOWN_LOADS.value, Source.SENSITIVITY.value})
"""What makes all forces of one calibration wrong by the same share: it cancels in their quotient."""


MEDIAN_SHARE = {1: 1.0, 2: 0.7071, 3: 0.6698, 4: 0.5461, 5: 0.5356}
"""Standard deviation of the median of so many values of a normal distribution, of which that of one value is 1;
worked out from the distributions of the order statistics. With more values it nears sqrt(pi / 2 n)."""


def force_components(reading: Reading, settings: ResultSettings) -> tuple[Component, ...]:
    """Return the components of one score, N.

    Parameters
    ----------
    reading : Reading
        What the force rests on.
    settings : ResultSettings
        Limits of the errors that a recording does not show.

    Returns
    -------
    tuple of Component
        In the order of `Source`; those that cannot be evaluated say why.

    Examples
    --------
    A sensor that was never calibrated: what the line from counts to newtons is worth, nobody knows.

    >>> from analysis.results.settings import load_result_settings
    >>> known = Calibration(newtons_per_count=0.1, rated_force_n=500.0)
    >>> reading = Reading(
    ...     force_n=200.0,
    ...     weight_n=None,
    ...     calibrations=(known,),
    ...     resolution_n=0.1,
    ...     zero_shift_n=0.4,
    ...     noise_n=0.02,
    ...     noise_dof=99,
    ...     lever_arm_m=0.3,
    ... )
    >>> components = force_components(reading, load_result_settings())
    >>> [component.source.value for component in components if component.unknown]
    ['known-loads', 'calibration-sensitivity', 'calibration-residuals']
    """
    found = [
        *_of_calibration(reading, settings),
        _zero_drift(reading),
        _noise(reading),
        from_limits(Source.RESOLUTION, reading.resolution_n / 2.0, unit="N"),
        from_angle(Source.PAD_ANGLE, settings.pad_angle.within_deg, sensitivity=reading.force_n),
    ]
    if reading.weight_n is not None:
        within = settings.resting_force.within_pct
        found.append(from_limits(Source.RESTING_FORCE, within, unit="%", sensitivity=reading.weight_n / 100.0))
    return tuple(found)


def torque_components(
    force: tuple[Component, ...], reading: Reading, settings: ResultSettings
) -> tuple[Component, ...]:
    """Return the components of a torque, N m, from those of its force.

    Raises
    ------
    ValueError
        If the reading has no lever arm.

    Examples
    --------
    >>> from analysis.results.settings import load_result_settings
    >>> known = Calibration(newtons_per_count=0.1, rated_force_n=500.0)
    >>> reading = Reading(
    ...     force_n=200.0,
    ...     weight_n=None,
    ...     calibrations=(known,),
    ...     resolution_n=0.1,
    ...     zero_shift_n=0.4,
    ...     noise_n=0.02,
    ...     noise_dof=99,
    ...     lever_arm_m=0.3,
    ... )
    >>> settings = load_result_settings()
    >>> torque_components(force_components(reading, settings), reading, settings)[-1].source.value
    'lever-arm'
    """
    if reading.lever_arm_m is None:
        raise ValueError("a torque needs a lever arm, got none")
    lever = from_limits(Source.LEVER_ARM, settings.lever_arm.within_m, unit="m", sensitivity=reading.force_n)
    return (*(scaled(component, reading.lever_arm_m) for component in force), lever)


def repeatability(values: Spread, *, of: ScoreOf, unit: str, pooled: PooledSpread | None = None) -> Component:
    """Return the component of what differs from trial to trial (type A).

    Parameters
    ----------
    values : Spread
        The same quantity from each trial of the set.
    of : ScoreOf
        What stands for the set. The best is one of the trials, and spreads as one does.
    unit : str
        Of the quantity.
    pooled : PooledSpread, optional
        How much single trials differ, from many sets; taken where this set does not spread far more.

    References
    ----------
    JCGM 100:2008, 4.2.2 and 4.2.3. The median: see `MEDIAN_SHARE`.

    Examples
    --------
    >>> from analysis.results.spread import spread
    >>> three = spread([1, 2, 3], [190.0, 200.0, 210.0])
    >>> round(repeatability(three, of=ScoreOf.MEAN, unit="N").standard, 3)
    5.774
    """
    count = len(values.values)
    if pooled is not None and pooled.fits(values):
        sd = pooled.cv_pct / 100.0 * abs(values.mean)
        standard = sd * _share_of_sd(of, count)
        return from_readings(
            Source.REPEATABILITY, standard, value=sd, dof=pooled.dof, unit=unit, shared="trials of all sets"
        )
    if values.sd is None:
        return unknown(Source.REPEATABILITY, Unknown.ONE_TRIAL, unit=unit, distribution=Distribution.STUDENT)
    standard = values.sd * _share_of_sd(of, count)
    return from_readings(Source.REPEATABILITY, standard, value=values.sd, dof=count - 1, unit=unit)


def _share_of_sd(of: ScoreOf, count: int) -> float:
    """Return the standard deviation of what stands for so many trials, as a share of that of one trial."""
    if of is ScoreOf.MEAN:
        return 1.0 / math.sqrt(count)
    if of is ScoreOf.MEDIAN:
        return MEDIAN_SHARE.get(count, math.sqrt(math.pi / 2.0 / count))
    return 1.0


def why_no_line(calibrations: Sequence[Calibration]) -> Unknown | None:
    """Return why calibrations do not tell the uncertainty of their line; None when they do.

    Examples
    --------
    >>> why_no_line([Calibration(newtons_per_count=0.1, rated_force_n=500.0)]).value  # never calibrated
    'not-calibrated'
    """
    if len(calibrations) > 1:
        return Unknown.CALIBRATIONS_DIFFER
    if calibrations[0].date is None:
        return Unknown.NOT_CALIBRATED
    if len(calibrations[0].points) < 2:
        return Unknown.LOADS_NOT_ON_RECORD
    return Unknown.TWO_LOADS if len(calibrations[0].points) == 2 else None


def _of_calibration(reading: Reading, settings: ResultSettings) -> tuple[Component, ...]:
    known = reading.calibrations[0].uncertainty if len(reading.calibrations) == 1 else None
    if known is None or reading.calibrations[0].date is None:
        return (_known_loads(reading, settings.known_loads.within_pct), *_line(reading))
    (calibration,) = reading.calibrations
    pct, estimate = reading.force_n / 100.0, f"calibration {calibration.serial} {calibration.date}"
    sensitivity = Component(
        source=Source.SENSITIVITY,
        value=known.sensitivity_pct,
        unit="%",
        distribution=Distribution.STUDENT,
        standard=known.sensitivity_pct,
        sensitivity=pct,
        dof=known.sensitivity_dof,
        shared=estimate,
    )
    return (scaled(sensitivity, 1.0), *_of_sensor(reading, calibration, known, estimate))


def _of_sensor(
    reading: Reading, calibration: Calibration, known: CalibrationUncertainty, estimate: str
) -> Iterator[Component]:
    """Yield what a check found the sensor to do besides its sensitivity; sizes in newtons grow with the force."""
    greatest = max((abs(point.load_n) for point in calibration.points), default=0.0)
    share = abs(reading.force_n) / greatest if greatest else 1.0
    if known.linearity_n is not None:
        yield from_limits(Source.RESIDUALS, abs(known.linearity_n), unit="N")
    else:
        dof = max(1, len(calibration.points) - 2)
        yield from_readings(Source.RESIDUALS, known.residual_sd_n, dof=dof, unit="N", shared=estimate)
    yield from _next_run(reading, known, share, estimate)
    for source, size in ((Source.HYSTERESIS, known.hysteresis_n), (Source.CREEP, known.creep_n)):
        if size is not None:
            yield from_limits(source, abs(size), unit="N", sensitivity=share)


def _next_run(reading: Reading, known: CalibrationUncertainty, share: float, estimate: str) -> Iterator[Component]:
    source, pct = Source.SENSOR_REPEATABILITY, reading.force_n / 100.0
    if known.between_runs_pct is None:
        if known.repeatability_n is not None:  # an older check: the range of its runs
            yield from_limits(source, 0.5 * abs(known.repeatability_n), unit="N", sensitivity=share)
    elif (known.runs or 1) < 2:
        yield from_standard(source, known.between_runs_pct, unit="%", sensitivity=pct)
    else:
        dof = (known.runs or 2) - 1
        yield from_readings(source, known.between_runs_pct, dof=dof, unit="%", sensitivity=pct, shared=estimate)


def _known_loads(reading: Reading, within_pct: float) -> Component:
    if any(calibration.date is None for calibration in reading.calibrations):
        return unknown(Source.KNOWN_LOADS, Unknown.NOT_CALIBRATED, unit="%", distribution=Distribution.RECTANGULAR)
    return from_limits(Source.KNOWN_LOADS, within_pct, unit="%", sensitivity=reading.force_n / 100.0)


def _line(reading: Reading) -> tuple[Component, Component]:
    why = why_no_line(reading.calibrations)
    if why is not None:
        return (
            unknown(Source.SENSITIVITY, why, unit="%", distribution=Distribution.STUDENT),
            unknown(Source.RESIDUALS, why, unit="N", distribution=Distribution.STUDENT),
        )
    (calibration,) = reading.calibrations
    rest, dof = residuals(calibration), len(calibration.points) - 2
    relative = 100.0 * rest.slope_uncertainty / abs(calibration.newtons_per_count)
    pct, estimate = reading.force_n / 100.0, f"calibration {calibration.serial} {calibration.date}"
    return (
        from_readings(Source.SENSITIVITY, relative, dof=dof, unit="%", sensitivity=pct, shared=estimate),
        from_readings(Source.RESIDUALS, rest.scatter_n, dof=dof, unit="N", shared=estimate),
    )


def _zero_drift(reading: Reading) -> Component:
    if reading.noise_n is None or reading.zero_shift_n is None:
        why = Unknown.NO_ZERO_BEFORE if reading.noise_n is None else Unknown.NO_ZERO_AFTER
        return unknown(Source.ZERO_DRIFT, why, unit="N", distribution=Distribution.RECTANGULAR)
    return from_limits(Source.ZERO_DRIFT, abs(reading.zero_shift_n), unit="N")


def _noise(reading: Reading) -> Component:
    if reading.noise_n is None:
        return unknown(Source.NOISE, Unknown.NO_ZERO_BEFORE, unit="N", distribution=Distribution.STUDENT)
    return from_readings(Source.NOISE, reading.noise_n, dof=reading.noise_dof, unit="N")
