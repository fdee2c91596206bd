"""Invented efforts with a known truth: the same seed gives the same force.

An effort is a ramp to a plateau, a hold and a release, on which one disturbance or more may lie. Each
disturbance is one field of `Effort`, named after what a person or an examiner did. `FAULTY` holds one
effort for every fault of the ramp-and-hold protocol that a force trace alone can show. All of it is
invented: nobody's force is here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np

from acquire.values.arrays import FloatArray
from acquire.values.records import Trace

BROKEN_PCT = 45.0
"""An overcome limb pushes on with so much less than at the break."""


class Effort(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a person and an examiner do in one trial."""

    plateau_n: float = 250.0
    shape: Literal["straight", "smooth"] = "smooth"
    """The ramp: a straight line, or a half cosine wave."""
    ramp_s: float = 1.6
    """From the onset to the whole plateau."""
    hold_s: float = 4.8
    """From the end of the ramp to the release."""
    fall_s: float = 0.25
    """From the plateau back to rest."""
    rest_before_s: float = 2.2
    rest_after_s: float = 2.2
    noise_n: float = 0.25
    """Standard deviation of the sensor's white noise."""
    sway_pct: float = 1.0
    """Slow unsteadiness of the hold, amplitude."""
    tremor_pct: float = 0.5
    """Tremor near 9 Hz on whatever force there is, root mean square."""
    preload_pct: float = 0.0
    """A constant force that is on for `preload_s` before the ramp."""
    preload_s: float = 0.8
    dip_pct: float = 0.0
    """A dip just before the onset."""
    step_back_pct: float = 0.0
    """A fall in the middle of the ramp."""
    overshoot_pct: float = 0.0
    """A peak at the end of the ramp that decays within half a second."""
    drift_pct_per_s: float = 0.0
    """Trend of the hold."""
    wobble_pct: float = 0.0
    """Large waves in the hold, about 0.7 a second, amplitude."""
    shake_pct: float = 0.0
    """Trembling near 7 Hz in the hold, root mean square."""
    drops: int = 0
    """How often the sensor is pushed back in the hold, by `drop_pct` for a third of a second."""
    drop_pct: float = 13.0
    push_pct: float = 0.0
    """A second rise in the last second of the hold, at the top of which the force breaks while the person pushes on."""
    zero_shift_pct: float = 0.0
    """What the sensor reads after the release."""
    limit_n: float | None = None
    """The sensor's limit."""
    lost_s: tuple[tuple[float, float], ...] = ()
    """Stretches from the onset on, (start, length), of which no sample arrives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is known of an undisturbed effort."""

    onset_s: float
    ramp_time_s: float
    """Onset to 90 % of the plateau."""
    ramp_slope_n_per_s: float
    """Mean slope between 20 and 80 % of the plateau."""
    plateau_n: float
    peak_n: float
    """Highest force without noise."""
    release_s: float
    """When the force falls through half of the plateau."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Simulation:
    """A trace and the truth behind it."""

    trace: Trace
    truth: Truth


def simulate(effort: Effort, *, rate_hz: float = 1000.0, seed: int = 0) -> Simulation:
    """Return the trace of an effort.

    Parameters
    ----------
    effort : Effort
        What is done.
    rate_hz : float
        Samples per second.
    seed : int
        Of the noise and the phases.

    Returns
    -------
    Simulation

    Raises
    ------
    ValueError
        If `rate_hz` is not positive.

    Examples
    --------
    >>> done = simulate(Effort(plateau_n=100.0, noise_n=0.0, sway_pct=0.0, tremor_pct=0.0, shape="straight"))
    >>> round(done.truth.ramp_time_s, 6), round(float(done.trace.force.max()), 6)
    (1.44, 100.0)
    """
    if not rate_hz > 0.0:
        raise ValueError(f"rate_hz must be positive, got {rate_hz} Hz")
    chance = np.random.default_rng(seed)
    begin = effort.rest_before_s + (effort.preload_s if effort.preload_pct else 0.0)
    length = begin + effort.ramp_s + effort.hold_s + effort.fall_s + effort.rest_after_s
    time = np.arange(round(length * rate_hz)) / rate_hz
    clean = effort.plateau_n * _share(effort, time - begin, chance)
    force = clean + effort.noise_n * chance.standard_normal(len(time))
    clipped = None
    if effort.limit_n is not None:
        clipped = force >= effort.limit_n
        force = np.minimum(force, effort.limit_n)
    for start, lost in effort.lost_s:
        force[(time >= begin + start) & (time < begin + start + lost)] = np.nan
    return Simulation(
        trace=Trace(time=time, force=force, clipped=clipped), truth=_truth(effort, begin, float(clean.max()))
    )


def recording(efforts: Sequence[Effort], *, rate_hz: float = 1000.0, seed: int = 0) -> Trace:
    """Return one continuous trace of several efforts, one after the other.

    Examples
    --------
    >>> whole = recording([Effort(), Effort()], rate_hz=100.0)
    >>> len(whole.time) == 2 * len(simulate(Effort(), rate_hz=100.0).trace.time)
    True
    """
    parts = [simulate(effort, rate_hz=rate_hz, seed=seed + i).trace for i, effort in enumerate(efforts)]
    force = np.concatenate([part.force for part in parts])
    return Trace(time=np.arange(len(force)) / rate_hz, force=force)


def _truth(effort: Effort, begin: float, peak: float) -> Truth:
    if effort.shape == "straight":
        share, slope = 0.9, 1.0
    else:
        share = float(np.arccos(1.0 - 2.0 * 0.9) / np.pi)
        slope = 0.6 * np.pi / float(np.arccos(-0.6) - np.arccos(0.6))
    return Truth(
        onset_s=begin,
        ramp_time_s=share * effort.ramp_s,
        ramp_slope_n_per_s=slope * effort.plateau_n / effort.ramp_s,
        plateau_n=effort.plateau_n,
        peak_n=peak,
        release_s=begin + effort.ramp_s + effort.hold_s + 0.5 * effort.fall_s,
    )


def _share(effort: Effort, time: FloatArray, chance: np.random.Generator) -> FloatArray:
    """Return the force without noise as a share of the plateau; `time` is 0 at the onset."""
    end = effort.ramp_s + effort.hold_s
    held = (time >= effort.ramp_s) & (time < end)
    into = time - effort.ramp_s
    phases = chance.uniform(0.0, 2.0 * np.pi, 4)
    share = _ramp(effort, time)
    share += _in_hold(effort, into, held, phases)
    share *= np.interp(time, [end, end + effort.fall_s], [1.0, 0.0])
    share *= 1.0 + 0.01 * effort.tremor_pct * _tremor(time, phases)
    share += 0.01 * effort.zero_shift_pct * np.clip((time - end) / effort.fall_s, 0.0, 1.0)
    return share + _before(effort, time)


def _tremor(time: FloatArray, phases: FloatArray) -> FloatArray:
    """Return a beating tremor of root mean square 1, near 9 Hz."""
    waves = [
        np.sin(2.0 * np.pi * hertz * time + phase) for hertz, phase in zip((7.7, 9.1, 10.2, 11.3), phases, strict=True)
    ]
    return np.asarray(np.sum(waves, axis=0) / np.sqrt(2.0))


def _ramp(effort: Effort, time: FloatArray) -> FloatArray:
    """Rest, ramp and plateau; a preload is what the ramp starts from, a step back halves it."""
    done = np.clip(time / effort.ramp_s, 0.0, 1.0)
    if effort.step_back_pct:
        fall = 0.01 * effort.step_back_pct
        done = np.interp(done, [0.0, 0.4, 0.55, 1.0], [0.0, 0.55, 0.55 - fall, 1.0])
    share = done if effort.shape == "straight" else 0.5 - 0.5 * np.cos(np.pi * done)
    low = 0.01 * effort.preload_pct
    return np.asarray(np.where(time < 0.0, 0.0, low + (1.0 - low) * share))


def _before(effort: Effort, time: FloatArray) -> FloatArray:
    """What happens before the onset: a preload, a dip."""
    preload = 0.01 * effort.preload_pct * ((time >= -effort.preload_s) & (time < 0.0))
    dip = np.where((time > -0.16) & (time < 0.0), np.sin(np.pi * np.clip(time / -0.16, 0.0, 1.0)), 0.0)
    return np.asarray(preload - 0.01 * effort.dip_pct * dip)


def _in_hold(effort: Effort, into: FloatArray, held: np.ndarray, phases: FloatArray) -> FloatArray:
    """Everything that lies on the hold, as a share of the plateau; `into` is 0 at its beginning."""
    waves = effort.sway_pct * (
        0.6 * (np.sin(2.0 * np.pi * 0.4 * into + phases[0]) - np.sin(phases[0]))
        + 0.4 * (np.sin(2.0 * np.pi * 1.1 * into + phases[1]) - np.sin(phases[1]))
    )
    waves += effort.wobble_pct * np.sin(2.0 * np.pi * 0.7 * into)
    waves += effort.shake_pct * (np.sin(2.0 * np.pi * 6.3 * into + phases[2]) + np.sin(2.0 * np.pi * 7.4 * into))
    waves += effort.drift_pct_per_s * into
    for at in np.linspace(0.0, effort.hold_s, effort.drops + 2)[1:-1]:
        waves -= effort.drop_pct * np.interp(into - at, [-0.08, 0.02, 0.1, 0.25], [0.0, 1.0, 1.0, 0.0])
    late = effort.hold_s - 1.0
    broken = effort.push_pct + BROKEN_PCT if effort.push_pct else 0.0
    waves += np.interp(into - late, [0.0, 0.5, 0.62], [0.0, effort.push_pct, effort.push_pct - broken])
    # the end of the hold is kept into the release, so that the fall starts where the hold ended
    level = 0.01 * np.where(held, waves, 0.0)
    last = np.flatnonzero(held)
    if len(last):
        level[last[-1] + 1 :] = level[last[-1]]
    decay = np.where(into >= 0.0, np.exp(-np.maximum(into, 0.0) / 0.12), np.clip(1.0 + into / 0.15, 0.0, 1.0))
    return np.asarray(level + 0.01 * effort.overshoot_pct * decay)


GOOD = Effort()

FAULTY: dict[str, Effort] = {
    "no-effort": Effort(plateau_n=6.0),
    "preload": Effort(preload_pct=16.0),
    "countermovement": Effort(dip_pct=9.0),
    "fast-ramp": Effort(ramp_s=0.52, shape="straight", hold_s=5.5),
    "slow-ramp": Effort(ramp_s=4.0),
    "jerk": Effort(ramp_s=0.4, hold_s=5.5),
    "stepped-ramp": Effort(step_back_pct=22.0, ramp_s=1.8),
    "short-hold": Effort(hold_s=1.8),
    "unsteady-hold": Effort(wobble_pct=18.0, hold_s=6.0),
    "still-rising": Effort(drift_pct_per_s=20.0, ramp_s=1.2, hold_s=2.5),
    "fading": Effort(drift_pct_per_s=-14.0, hold_s=4.5),
    "overshoot": Effort(overshoot_pct=36.0),
    "examiner-pushed": Effort(push_pct=28.0, hold_s=4.6, fall_s=0.2),
    "gave-way": Effort(drops=3, hold_s=6.0),
    "shake": Effort(shake_pct=8.5),
    "zero-shift": Effort(zero_shift_pct=8.0),
    "clipped": Effort(limit_n=225.0),
    "lost-samples": Effort(lost_s=((3.0, 0.25),)),
    "slow-sensor": Effort(),
}
"""One invented effort for each fault; `slow-sensor` is a good one to be sampled at less than 10 Hz."""

ABOUT: dict[str, str] = {
    "no-effort": "the pad is barely touched",
    "preload": "the person already leans on the pad before the word to build up",
    "countermovement": "the limb is pulled back before it pushes",
    "fast-ramp": "the full force within half a second",
    "slow-ramp": "a build-up of four seconds",
    "jerk": "a sudden jump instead of a build-up",
    "stepped-ramp": "the push falls back halfway up and starts again",
    "short-hold": "the person stops after two seconds",
    "unsteady-hold": "large slow waves in the hold",
    "still-rising": "the force climbs through the whole hold",
    "fading": "the force sinks through the whole hold",
    "overshoot": "a peak far above the level that is then held",
    "examiner-pushed": "the examiner pushes against the limb and breaks the hold",
    "gave-way": "the examiner is pushed back three times",
    "shake": "the examiner's hands tremble",
    "zero-shift": "the sensor does not return to zero",
    "clipped": "the force exceeds the sensor's limit",
    "lost-samples": "a quarter of a second of the hold is missing",
    "slow-sensor": "a good effort at eight samples a second",
}
"""What each of `FAULTY` shows, in a line."""
