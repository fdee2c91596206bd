"""The measures of one effort: what each is, in which unit, and when it is withheld.

A number that the data cannot support is withheld, with the reason, never guessed.

============================  ==========================================================================
`onset_s`                     when the force leaves the baseline, by the toe rule of `analysis.trial.onset`
`onset_uncertainty_s`         how far the first sign of the effort is from there
`peak_force_n`                highest 20 ms mean between onset and release (a raw maximum grows with noise)
`time_to_peak_s`              onset to that peak
`plateau_force_n`             mean of the best 3 s inside the hold, of the whole hold when it is shorter
                              (Caldwell et al. 1974, Chaffin 1975: the mean of 3 s of steady exertion)
`plateau_start_s`             when the hold begins
`plateau_end_s`               when it ends
`hold_time_s`                 the longest run of the smoothed force within the protocol's band about its own mean
`ramp_time_s`                 onset to 90 % of the plateau force
`rise_10_90_s`                from 10 to 90 % of the way from the baseline to the plateau force
                              (rise time as in IEC 60469:2013, from memory); sure where the onset is not
`time_to_50_pct_s`            onset to 50 % of the plateau force
`ramp_slope_n_per_s`          least-squares slope between 20 and 80 % of the plateau force
`rfd_n_per_s`                 mean slope from the onset in bands (Haff et al. 2015), see `analysis.trial.rfd`
`rfd_pct_per_s`               the same bands as a share of the plateau force, per second (relative rate of
                              force development: Maffiuletti et al. 2016)
`peak_rfd_n_per_s`            steepest 20 ms of the ramp (Haff et al. 2015)
`impulse_n_s`                 integral of force above the zero from onset to release, trapezoidal rule
`hold_cv_pct`                 standard deviation of the hold as a share of its mean
`hold_trend_pct_per_s`        least-squares slope of the held part, per second, as a share of the plateau force
`fatigue_index_pct`           mean of the first second of the held part less that of the last, as a share of the first
                              (common practice, no source)
`baseline_n`                  the zero: the level of the unloaded sensor, as recorded
`release_s`                   when the force falls through half of the plateau force for the last time
============================  ==========================================================================

Forces are above the zero. Times are in the time of the trace. The held part runs from the end of the ramp
to the release: a hold that is broken in the middle is still one held part.
"""

from __future__ import annotations

import msgspec
import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.effort import Effort
from analysis.trial.number import Kind, Number
from analysis.trial.phases import Phases
from analysis.trial.rfd import BANDS_MS, STEEPEST_S, rate_of_force_development, slope_noise, steepest_rate
from analysis.trial.steadiness import coefficient_of_variation, fatigue_index_pct, trend_pct_per_s
from analysis.trial.windows import first_true, slope
from analysis.trial.withheld import Reason, Why, Withheld, slow_sensor

RATE_TOLERANCE = 0.99
"""A sensor's nominal rate is met when the measured one is within 1 %: its clock is its own."""

EARLY_HZ = {50: 1000.0, 100: 500.0, 150: 500.0, 200: 500.0, 250: 500.0}
"""The sample rate that each band needs (Maffiuletti et al. 2016; Rodriguez-Rosell et al. 2018, from memory)."""

ONSET_SHARE = 0.2
"""A band needs an onset that is sure to this share of its length: 10 ms for the first 50 ms, 50 ms for 250 ms."""

NOISE_SHARE = 0.25
"""The steepest rate is withheld when three standard deviations of its noise exceed this share of it."""

TREND_LEAST_S = 0.5
"""A trend over less is chance."""

FATIGUE_LEAST_S = 3.0
"""Between a first and a last second there must be one: our value."""

LEAST_SAMPLES = 3
"""A slope and a standard deviation need so many."""

SLOPE_SHARES = (0.2, 0.8)
"""Between these shares of the plateau force lies the slope of the ramp."""

PEAK_RATE_HZ = 500.0
"""The sample rate that the steepest rate needs: eleven samples in its window."""


class Measures(msgspec.Struct, frozen=True, kw_only=True):
    """The measures of one effort; None where the data cannot support the number."""

    onset_s: float | None = None
    onset_uncertainty_s: float | None = None
    peak_force_n: float | None = None
    time_to_peak_s: float | None = None
    plateau_force_n: float | None = None
    plateau_start_s: float | None = None
    plateau_end_s: float | None = None
    hold_time_s: float | None = None
    ramp_time_s: float | None = None
    rise_10_90_s: float | None = None
    time_to_50_pct_s: float | None = None
    ramp_slope_n_per_s: float | None = None
    rfd_n_per_s: dict[str, float | None] = {}
    rfd_pct_per_s: dict[str, float | None] = {}
    peak_rfd_n_per_s: float | None = None
    impulse_n_s: float | None = None
    hold_cv_pct: float | None = None
    hold_trend_pct_per_s: float | None = None
    fatigue_index_pct: float | None = None
    baseline_n: float | None = None
    release_s: float | None = None


NAMES = Measures.__struct_fields__

BANDED = ("rfd_n_per_s", "rfd_pct_per_s")
"""The measures that are one number a band."""


def nothing_measured(reason: Reason, *, baseline_n: float | None = None) -> tuple[Measures, Withheld]:
    """Return no measures at all, each withheld for the same reason.

    Parameters
    ----------
    reason : Reason
        Why.
    baseline_n : float, optional
        The baseline, N, where that was measured all the same.

    Examples
    --------
    >>> from analysis.trial.withheld import slow_sensor
    >>> measures, withheld = nothing_measured(slow_sensor(10.0, 5.0), baseline_n=3.0)
    >>> measures.plateau_force_n is None, measures.baseline_n, "baseline_n" in withheld
    (True, 3.0, False)
    """
    empty = {f"0-{band}": None for band in BANDS_MS}
    names = [name for name in NAMES if name not in BANDED]
    names += [f"{name}.{band}" for name in BANDED for band in empty]
    withheld = dict.fromkeys(names, reason)
    if baseline_n is not None:
        withheld.pop("baseline_n")
    return Measures(rfd_n_per_s=dict(empty), rfd_pct_per_s=dict(empty), baseline_n=baseline_n), withheld


def measure(effort: Effort, phases: Phases) -> tuple[Measures, Withheld]:
    """Return the measures of an effort and the reasons of those that are withheld.

    Parameters
    ----------
    effort : Effort
        The prepared trace.
    phases : Phases
        Where its phases lie.

    Returns
    -------
    Measures
        Newtons and seconds, as the class says; None where a measure is withheld.
    dict
        The reason for each measure that is withheld.

    Examples
    --------
    A sensor of 100 Hz gives a plateau, but no early rate of force development.

    >>> import numpy as np
    >>> from acquire.values.records import Trace
    >>> from analysis.trial.effort import prepare
    >>> from analysis.trial.protocol import load_protocol
    >>> time = np.arange(0.0, 11.0, 0.01)
    >>> force = np.interp(time, [2.0, 3.5, 7.5, 7.7], [0.0, 200.0, 200.0, 0.0])
    >>> protocol = load_protocol()
    >>> effort = prepare(Trace(time=time, force=force), smoothing_s=protocol.hold.smoothing_s)
    >>> from analysis.trial.phases import find_phases
    >>> measures, withheld = measure(effort, find_phases(effort, protocol))
    >>> measures.plateau_force_n, round(measures.hold_time_s, 2)
    (200.0, 4.26)
    >>> withheld["rfd_n_per_s.0-50"].why.value
    'slow-sensor'
    """
    withheld: Withheld = {}
    hold = slice(phases.hold.start, phases.hold.stop)
    last = phases.hold.stop - 1
    values = {
        "peak_force_n": float(effort.fine[phases.peak_index]),
        "plateau_force_n": phases.plateau_force,
        "plateau_start_s": float(effort.time[phases.hold.start]),
        "plateau_end_s": float(effort.time[last]),
        "hold_time_s": float(effort.time[last] - effort.time[phases.hold.start]) + 1.0 / effort.rate,
        "baseline_n": effort.zero,
        "release_s": phases.release,
    }
    if phases.release is None:
        withheld["release_s"] = withheld["impulse_n_s"] = Reason(Why.NO_RELEASE)
    kept = _kept(effort.force, effort, hold)
    if len(kept) >= LEAST_SAMPLES and kept.mean() > 0.0:
        values["hold_cv_pct"] = coefficient_of_variation(kept)
    else:
        withheld["hold_cv_pct"] = Reason(Why.FEW_IN_HOLD, (Number("least", LEAST_SAMPLES, Kind.COUNT),))
    held = slice(phases.level_start, phases.level_stop)
    if len(effort.force[held]) >= TREND_LEAST_S * effort.rate:
        values["hold_trend_pct_per_s"] = trend_pct_per_s(effort.time[held], effort.force[held])
    else:
        withheld["hold_trend_pct_per_s"] = Reason(Why.SHORT_HOLD, (Number("least", TREND_LEAST_S, Kind.SECONDS),))
    values |= _fatigue(effort, held, withheld) | _from_onset(effort, phases, withheld)
    bands = _bands(effort, phases, withheld)
    share = 100.0 / phases.plateau_force
    relative = {band: None if rate is None else share * rate for band, rate in bands.items()}
    return Measures(**values, rfd_n_per_s=bands, rfd_pct_per_s=relative), withheld


def _fatigue(effort: Effort, held: slice, withheld: Withheld) -> dict[str, float]:
    """Return by how much the hold falls; nothing for one that is too short for a first and a last second apart."""
    force, second = effort.force[held], effort.samples(1.0)
    if len(force) < FATIGUE_LEAST_S * effort.rate or not force[:second].mean() > 0.0:
        withheld["fatigue_index_pct"] = Reason(Why.SHORT_HOLD, (Number("least", FATIGUE_LEAST_S, Kind.SECONDS),))
        return {}
    return {"fatigue_index_pct": fatigue_index_pct(force, second)}


def _kept(values: FloatArray, effort: Effort, part: slice) -> FloatArray:
    """Return a part without the bridges across lost samples."""
    return values[part] if effort.lost is None else values[part][~effort.lost[part]]


def _from_onset(effort: Effort, phases: Phases, withheld: Withheld) -> dict[str, float | None]:
    """Return the measures that need the onset."""
    if phases.onset is None:
        names = ("onset_s", "onset_uncertainty_s", "time_to_peak_s", "ramp_time_s", "rise_10_90_s", "time_to_50_pct_s")
        for name in (*names, "ramp_slope_n_per_s", "peak_rfd_n_per_s", "impulse_n_s"):
            withheld[name] = Reason(Why.NO_ONSET)
        return {}
    onset = phases.onset.time
    return {
        "onset_s": onset,
        "onset_uncertainty_s": phases.onset.uncertainty,
        "time_to_peak_s": float(effort.time[phases.peak_index]) - onset,
        "ramp_time_s": phases.ramp_end - onset,
        "rise_10_90_s": phases.rise_time(effort, 0.1, 0.9),
        "time_to_50_pct_s": phases.crossed(effort, 0.5) - onset,
        "ramp_slope_n_per_s": _ramp_slope(effort, phases, withheld),
        "peak_rfd_n_per_s": _peak_rate(effort, phases, withheld),
        "impulse_n_s": _impulse(effort, phases),
    }


def _ramp_slope(effort: Effort, phases: Phases, withheld: Withheld) -> float | None:
    low, high = (
        first_true(effort.smooth >= share * phases.plateau_force, phases.onset_index) for share in SLOPE_SHARES
    )
    if low is None or high is None or high - low < LEAST_SAMPLES:
        shares = zip(("low", "high"), SLOPE_SHARES, strict=True)
        least = Number("least", LEAST_SAMPLES, Kind.COUNT)
        withheld["ramp_slope_n_per_s"] = Reason(
            Why.FEW_IN_RAMP, (least, *(Number(name, 100.0 * share, Kind.PERCENT) for name, share in shares))
        )
        return None
    return slope(effort.time[low:high], effort.force[low:high])


def _peak_rate(effort: Effort, phases: Phases, withheld: Withheld) -> float | None:
    reason = _why_no_peak_rate(effort, phases)
    if reason is None:
        ramp = effort.force[max(0, phases.onset_index - 1) : phases.ramp_stop + 1]
        rate = steepest_rate(ramp, effort.rate)
        if np.isfinite(rate) and 3.0 * slope_noise(effort.noise, effort.rate) <= NOISE_SHARE * rate:
            return rate
        reason = Reason(Why.NOISE, (Number("window", STEEPEST_S, Kind.SECONDS),))
    withheld["peak_rfd_n_per_s"] = reason
    return None


def _why_no_peak_rate(effort: Effort, phases: Phases) -> Reason | None:
    if effort.rate < RATE_TOLERANCE * PEAK_RATE_HZ:
        return slow_sensor(PEAK_RATE_HZ, effort.rate)
    if effort.lost is not None and effort.lost[phases.onset_index : phases.ramp_stop + 1].any():
        return Reason(Why.LOST_IN_RAMP)
    return None


def _impulse(effort: Effort, phases: Phases) -> float | None:
    if phases.release is None:
        return None
    part = slice(phases.onset_index, phases.release_index + 1)
    return float(np.trapezoid(effort.force[part], effort.time[part]))


def _bands(effort: Effort, phases: Phases, withheld: Withheld) -> dict[str, float | None]:
    """Return the rates of force development, None where withheld."""
    bands: dict[str, float | None] = {}
    rates: dict[str, float] = {}
    if phases.onset is not None:
        rates = rate_of_force_development(effort.force, effort.rate, start=phases.onset_index)
    for band, needed in EARLY_HZ.items():
        reason = _why_no_band(effort, phases, band_ms=band, needed_hz=needed)
        bands[f"0-{band}"] = rates.get(f"0-{band}") if reason is None else None
        if reason is not None:
            withheld |= {f"{name}.0-{band}": reason for name in BANDED}
    return bands


def _why_no_band(effort: Effort, phases: Phases, *, band_ms: int, needed_hz: float) -> Reason | None:
    if phases.onset is None:
        return Reason(Why.NO_ONSET)
    if effort.rate < RATE_TOLERANCE * needed_hz:
        return slow_sensor(needed_hz, effort.rate)
    if phases.onset.uncertainty > ONSET_SHARE * band_ms / 1000.0:
        unsure = Number("measured", phases.onset.uncertainty, Kind.SECONDS)
        return Reason(Why.UNSURE_ONSET, (unsure, Number("share", 100.0 * ONSET_SHARE, Kind.PERCENT)))
    end = phases.onset_index + round(band_ms * effort.rate / 1000.0)
    if end >= len(effort.force):
        return Reason(Why.CUT_BAND)
    if effort.lost is not None and effort.lost[phases.onset_index : end + 1].any():
        return Reason(Why.LOST_IN_BAND)
    return None
