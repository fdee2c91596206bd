"""What is to be done in a check of a sensor: which weights, how often, and what is known of them.

::

    look                                    the unloaded sensor
    preload       heaviest, nothing         so often as the procedure says    } only when all of it
    run 1         nothing, up the weights   and down again, to nothing        } is asked for
    run 2, ..     the same                                                    }
    creep         nothing, for a while; heaviest, held; nothing               }

Without the rest a run is just up: enough for a calibration.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

import msgspec

from acquire.errors import AcquireError
from acquire.values.gravity import LocalGravity, local_gravity, weight
from analysis.sensor_check import Procedure, Purpose
from ui.words.phrase import Phrase
from ui.words.words import Words


class CheckError(AcquireError):
    """A check that cannot begin or go on; `phrase` says it in the language of the window."""

    def __init__(self, key: str, **values: object) -> None:
        self.phrase = Phrase(f"check.error.{key}", values)
        super().__init__(self.phrase.said(Words()))


class CheckSetup(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is hung on the sensor, where, and by whom."""

    masses_kg: tuple[float, ...] = ()
    """In any order; the nothing before and after them goes without saying."""
    full: bool = False
    """Up and down, several runs and creep; else up once."""
    gravity_m_per_s2: float | None = None
    """Typed in; else from latitude and height, where they are known."""
    latitude_deg: float | None = None
    height_m: float | None = None
    mass_tolerance_pct: float | None = None
    """How far masses may be from what is written on them; None for what the limits say."""
    serial: str = ""
    by: str = ""

    @property
    def gravity(self) -> LocalGravity:
        """Gravity, as well as it is known."""
        return local_gravity(typed=self.gravity_m_per_s2, latitude_deg=self.latitude_deg, height_m=self.height_m)

    @property
    def rising(self) -> tuple[float, ...]:
        """The masses as they will be hung: each once, the lightest first.

        Examples
        --------
        >>> CheckSetup(masses_kg=(20.0, 0.0, 5.0, 20.0)).rising
        (5.0, 20.0)
        """
        return tuple(sorted({mass for mass in self.masses_kg if mass > 0.0}))


class Step(NamedTuple):
    """One thing to be seen: the unloaded sensor, or one load."""

    purpose: Purpose | Literal["look"]
    mass_kg: float
    seconds: float
    """How long it is read once it is still."""
    run: int = 0


def check_steps(setup: CheckSetup, procedure: Procedure) -> tuple[Step, ...]:
    """Return what is to be seen, in order.

    Examples
    --------
    >>> from analysis.sensor_check import load_check_limits
    >>> setup = CheckSetup(masses_kg=(10.0, 5.0))
    >>> [(step.purpose, step.mass_kg) for step in check_steps(setup, load_check_limits().procedure)]
    [('look', 0.0), ('zero', 0.0), ('up', 5.0), ('up', 10.0)]
    """
    look = Step("look", 0.0, procedure.look_s)
    masses = setup.rising
    if not masses:
        return (look,)
    if not setup.full:
        return (look, *_up(masses, 1, procedure.reading_s))
    return (look, *_full(masses, procedure))


def _full(masses: Sequence[float], procedure: Procedure) -> Iterator[Step]:
    reading = procedure.reading_s
    for _ in range(procedure.preloads):
        yield Step("preload", masses[-1], reading)
        yield Step("preload", 0.0, reading)
    for run in range(1, procedure.runs + 1):
        yield from _up(masses, run, reading)
        for mass in (*reversed(masses[:-1]), 0.0):
            yield Step("down", mass, reading, run)
    if procedure.creep_s:
        yield Step("rest", 0.0, procedure.rest_s + reading)
        yield Step("hold", masses[-1], procedure.creep_s + reading)
        yield Step("return", 0.0, reading)


def _up(masses: Sequence[float], run: int, reading_s: float) -> Iterator[Step]:
    yield Step("zero", 0.0, reading_s, run)
    for mass in masses:
        yield Step("up", mass, reading_s, run)


HANDLING_S = 8.0
"""A weight is changed and comes to rest in about this long."""


def duration_s(steps: Sequence[Step]) -> float:
    """Return about how long steps take.

    Examples
    --------
    >>> duration_s([Step("look", 0.0, 20.0), Step("up", 5.0, 2.0, 1)])
    30.0
    """
    return sum(step.seconds + (0.0 if step.purpose == "look" else HANDLING_S) for step in steps)


def refuse_overload(setup: CheckSetup, rated_force_n: float | None) -> None:
    """Refuse weights that would hurt the sensor; none where nobody knows its rated force.

    Raises
    ------
    CheckError
        If the heaviest weighs more than the rated force.
    """
    heaviest = max(setup.rising, default=0.0)
    newtons = weight(heaviest, setup.gravity.m_per_s2) if heaviest else 0.0
    if rated_force_n is not None and newtons > rated_force_n:
        most = math.floor(10.0 * rated_force_n / setup.gravity.m_per_s2) / 10.0
        raise CheckError("overload", mass=heaviest, newtons=newtons, rated=rated_force_n, most=most)
