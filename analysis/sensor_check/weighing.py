"""Readings under known loads: the mean of a still stretch, the creep of a held one, and how well a load is known."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import msgspec

from acquire.values.gravity import LocalGravity
from analysis.sensor_check.readings import Readings, mean_of

Purpose = Literal["preload", "zero", "up", "down", "rest", "hold", "return"]


class LoadReading(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The mean of the sensor while a known load hung still on it."""

    purpose: Purpose
    """``zero`` before a run, ``up`` and ``down`` in it (with the zero at its end), ``rest``, ``hold`` and ``return`` of
    creep."""
    run: int
    """Number of the run, from 1; 0 outside of runs."""
    mass_kg: float
    load_n: float
    counts: float
    standard_counts: float
    """Standard uncertainty of the mean, type A."""
    degrees_of_freedom: int
    at_s: float
    """Middle of the reading, s of the stream."""


class Creep(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Change under a load that was held."""

    seconds: float
    """From the middle of the first reading to the middle of the last."""
    counts: float
    standard_counts: float
    at_n: float
    """The load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """How well it is known what hung on the sensor."""

    gravity: LocalGravity
    mass_tolerance_pct: float
    """Masses are within this of what is written on them."""


def reading_of(readings: Readings, *, purpose: Purpose, mass_kg: float, load_n: float, run: int = 0) -> LoadReading:
    """Return the mean of a still stretch under a load.

    Parameters
    ----------
    readings : Readings
        While the load hung still.
    purpose, mass_kg, load_n, run
        As in `LoadReading`.

    Examples
    --------
    >>> import numpy as np
    >>> still = Readings(time=np.arange(200) / 100.0, counts=np.full(200, 820.0))
    >>> reading_of(still, purpose="up", mass_kg=5.0, load_n=49.0, run=1).counts
    820.0
    """
    mean = mean_of(readings)
    return LoadReading(
        purpose=purpose,
        run=run,
        mass_kg=mass_kg,
        load_n=load_n,
        counts=mean.counts,
        standard_counts=mean.standard_counts,
        degrees_of_freedom=mean.degrees_of_freedom,
        at_s=float(readings.time[0]) + 0.5 * readings.seconds,
    )


def creep_of(held: Readings, *, load_n: float, reading_s: float) -> Creep:
    """Return what the reading changed while a load was held.

    Parameters
    ----------
    held : Readings
        From the moment the load hung still, longer than two readings.
    load_n : float
        The load, N.
    reading_s : float
        Length of the readings at both ends, s.

    Raises
    ------
    ValueError
        If the load was held for less than two readings.

    References
    ----------
    OIML R 60-1:2017, 3.7: change of the output with time while under constant load.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(6000) / 100.0
    >>> round(creep_of(Readings(time=time, counts=1000.0 + time / 10.0), load_n=100.0, reading_s=2.0).counts, 2)
    5.8
    """
    if held.seconds < 2.0 * reading_s:
        raise ValueError(f"creep needs at least {2.0 * reading_s:g} s under load, got {held.seconds:.3g} s")
    first = mean_of(held.within(held.time[0], held.time[0] + reading_s))
    last = mean_of(held.within(held.time[-1] - reading_s, held.time[-1]))
    return Creep(
        seconds=held.seconds - reading_s,
        counts=last.counts - first.counts,
        standard_counts=math.hypot(first.standard_counts, last.standard_counts),
        at_n=load_n,
    )
