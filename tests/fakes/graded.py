"""Faults drawn to a true value: just below the warning, between the limits, just above the rejection, and far above it.

What is drawn is changed until the fault, measured by `truth` on the force without noise, has the value asked for: a
nominal value says little, since wandering and tremor add to it. Lost samples, clipping, slow sensors and the
examiner's own limit are counts and quotients, tested at their limits in `tests/analysis/trial/test_rules.py`.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import truth
from drawn import Drawing, Person, draw

BASE = Person(hold=5.0, flicker=0.006, tremor=0.005, sway=0.01, breath=0.005, noise=0.15)
CALM = dataclasses.replace(BASE, flicker=0.002, tremor=0.002, sway=0.0, breath=0.0)


CLOSE = 0.01
STEPS = 15
TRIES = 8
"""An effort has the value asked for to 1 %, after so many steps at most; else the next of so many seeds is tried."""


@dataclass(frozen=True, kw_only=True)
class Graded:
    """One form of a fault."""

    code: str
    form: str
    make: Callable[[float], Person]
    """From a value near the true one to what is drawn."""
    true: Callable[[Person, Drawing, float], float]
    below: float
    """A value that keeps the protocol, only just."""
    between: float | None
    """One that is warned of; None where the protocol has one limit."""
    above: float
    """One that is rejected, only just."""
    far: float

    def drawn(self, value: float, *, rate: float, force: float, seed: int) -> Drawing:
        """Return an effort whose true value is the one given, to 1 %."""
        for chance in range(seed, seed + 5 * TRIES, 5):
            found = self._aimed(value, rate=rate, force=force, seed=chance)
            if found is not None:
                return found
        raise AssertionError(f"{self.code}, {self.form}: no effort with {value} was found")

    def _aimed(self, value: float, *, rate: float, force: float, seed: int) -> Drawing | None:
        """Return the effort that the secant rule finds; None where it finds none."""
        asked, gain, before = value, 1.0, None
        for _ in range(STEPS):
            person = dataclasses.replace(self.make(asked), plateau=force)
            drawing = draw(person, rate, seed)
            found = self.true(person, drawing, rate)
            if abs(found - value) <= CLOSE * abs(value):
                return drawing
            if before is not None and found != before[1]:
                gain = min(5.0, max(0.3, (asked - before[0]) / (found - before[1])))
            before = asked, found
            asked += gain * (value - found)
        return None


def measured(measure: Callable[[Drawing, float], float]) -> Callable[[Person, Drawing, float], float]:
    """Return a true value that needs the drawing alone."""
    return lambda _, drawing, rate: measure(drawing, rate)


def with_fault(**changes: object) -> Person:
    """Return an effort that is good but for what is given."""
    return dataclasses.replace(BASE, **changes)


def drops(depth: float, *, fall: float, back: float) -> Person:
    """Return a hold with three drops."""
    at = (0.8, 2.2, 3.6)
    return with_fault(bumps=tuple(((t, 0.0), (t + fall, -depth), (t + fall + back, 0.0)) for t in at))


def sawtooth(depth: float, *, period: float) -> Person:
    """Return a hold that falls within a tenth of a second and comes back until the next fall, again and again."""
    teeth = [((t, 0.0), (t + 0.1, -depth), (t + period - 0.001, 0.0)) for t in np.arange(0.3, 4.6, period)]
    return with_fault(bumps=(tuple(point for tooth in teeth for point in tooth),))


def pushed(rise: float, *, fall: float) -> Person:
    """Return a hold in which the force rises a second time and then breaks."""
    return with_fault(bumps=(((2.8, 0.0), (3.3, rise), (3.45, rise - fall), (4.0, rise - fall), (9.0, rise - fall)),))


def surge(height: float) -> Person:
    """Return a hold with a final surge that is held to the stop: no fault of the examiner's."""
    return with_fault(bumps=(((3.2, 0.0), (3.7, height), (9.0, height)),))


def ramp(seconds: float, shape: str) -> Person:
    """Return a calm effort with a ramp of so many seconds in all."""
    return dataclasses.replace(CALM, shape=shape, ramp=max(seconds, 0.05))


def nominal(of: Callable[[Person], float]) -> Callable[[Person, Drawing, float], float]:
    """Return a true value that is a share of what the person aims at."""
    return lambda person, drawing, rate: truth.share(person, drawing, rate, of=of(person))


FAST = {"below": 0.88, "between": 0.65, "above": 0.45, "far": 0.3}
SLOW = {"below": 2.05, "between": 2.35, "above": 2.65, "far": 3.2}
TENTHS = {"below": 4.5, "between": 7.5, "above": 11.0, "far": 15.0}
DROPS = {"below": 5.6, "between": None, "above": 8.8, "far": 12.0}
SHAPES = ("straight", "half cosine", "least jerk", "late bend")
EDGES = ((0.08, 0.12), (0.12, 0.3), (0.2, 0.5))

GRADED = (
    *(
        Graded(code="fast-ramp", form=s, make=lambda x, s=s: ramp(x, s), true=measured(truth.ramp_time), **FAST)
        for s in SHAPES
    ),
    *(
        Graded(code="slow-ramp", form=s, make=lambda x, s=s: ramp(x, s), true=measured(truth.ramp_time), **SLOW)
        for s in SHAPES[:3]
    ),
    Graded(
        code="jerk",
        form="straight",
        make=lambda x: ramp(100.0 / x, "straight"),
        true=measured(truth.steepest),
        below=180.0,
        between=250.0,
        above=330.0,
        far=450.0,
    ),
    Graded(
        code="preload",
        form="a second",
        make=lambda x: with_fault(before=((-1.2, 0.0), (-1.1, x / 100.0), (0.0, x / 100.0))),
        true=nominal(lambda person: person.before[-1][1]),
        **TENTHS,
    ),
    Graded(
        code="countermovement",
        form="0.15 s",
        make=lambda x: with_fault(before=((-0.15, 0.0), (-0.08, -x / 100.0), (0.0, 0.0))),
        true=nominal(lambda person: -person.before[1][1]),
        below=0.6,
        between=3.0,
        above=5.5,
        far=7.5,
    ),
    Graded(
        code="stepped-ramp",
        form="0.1 s",
        make=lambda x: with_fault(ramp=1.9, bumps=(((-0.8, 0.0), (-0.7, -x / 100.0), (-0.3, -x / 100.0), (0.0, 0.0)),)),
        true=measured(truth.step_back),
        **TENTHS,
    ),
    *(
        Graded(
            code="gave-way",
            form=f"three drops {fall:g}/{back:g} s",
            make=lambda x, fall=fall, back=back: drops(x / 100.0, fall=fall, back=back),
            true=truth.drop_depth,
            **DROPS,
        )
        for fall, back in EDGES
    ),
    *(
        Graded(
            code="gave-way",
            form=f"sawtooth of {period:g} s",
            make=lambda x, period=period: sawtooth(x / 100.0, period=period),
            true=truth.drop_depth,
            **DROPS,
        )
        for period in (0.4, 0.7, 1.0, 1.5)
    ),
    Graded(
        code="examiner-pushed",
        form="breaks by 30 %",
        make=lambda x: pushed(x / 100.0, fall=0.3),
        true=measured(functools.partial(truth.second_rise, start=2.8, top=3.3)),
        below=8.0,
        between=None,
        above=11.0,
        far=15.0,
    ),
    Graded(
        code="shake",
        form="8 to 12 Hz",
        make=lambda x: with_fault(tremor=max(x, 0.1) / 100.0),
        true=measured(truth.shaking),
        below=2.7,
        between=4.5,
        above=6.6,
        far=9.0,
    ),
    Graded(
        code="overshoot",
        form="0.4 s",
        make=lambda x: with_fault(bumps=(((-0.15, 0.0), (0.0, x / 100.0 - 1.0), (0.12, x / 100.0 - 1.0), (0.5, 0.0)),)),
        true=measured(truth.peak),
        below=113.0,
        between=120.0,
        above=127.5,
        far=137.0,
    ),
    Graded(
        code="still-rising",
        form="to the end",
        make=lambda x: with_fault(trend=x / 100.0, hold=4.5),
        true=measured(truth.trend),
        **TENTHS,
    ),
    Graded(
        code="fading",
        form="from the start",
        make=lambda x: with_fault(trend=-x / 100.0, hold=4.5),
        true=lambda _, drawing, rate: -truth.trend(drawing, rate),
        **TENTHS,
    ),
    Graded(
        code="unsteady-hold",
        form="breathing",
        make=lambda x: with_fault(hold=6.0, breath=max(x, 0.1) / 70.0),
        true=measured(truth.spread),
        **TENTHS,
    ),
    Graded(
        code="unsteady-hold",
        form="1/f",
        make=lambda x: with_fault(hold=6.0, flicker=max(x, 0.1) / 100.0),
        true=measured(truth.spread),
        **TENTHS,
    ),
    Graded(
        code="short-hold",
        form="stops",
        make=lambda x: with_fault(hold=x),
        true=measured(truth.steady_time),
        below=3.7,
        between=3.25,
        above=2.75,
        far=2.0,
    ),
    Graded(
        code="zero-shift",
        form="after the release",
        make=lambda x: with_fault(zero_after=x / 100.0),
        true=nominal(lambda person: person.zero_after),
        below=1.8,
        between=3.5,
        above=5.5,
        far=7.5,
    ),
)
"""Every fault that a drawing can show; the values stand on either side of the limits of `ramp-and-hold`."""
