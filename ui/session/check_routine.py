r"""A check of a sensor, step by step and hands-free: it says what to hang, and takes it when it hangs still.

A load goes through these states; seconds are those of the stream, so that a busy computer changes nothing::

    MOVING --- still, what was asked for ------> taken, the next step
      |  \____ still, as before the step ------> CHANGE --\
      |   \___ still, something else -----------> WRONG ---+-- it moves again --> MOVING
      |                                            \________ a press ----------> taken
      \_______ still, to be held ---------------> HOLDING -- its time is over --> taken, the next step

A held load goes on to HOLDING; when it is touched, its time begins anew. A press does the next sensible thing:
it ends the look, or takes what hangs there once it is still, as long as it is not what hung there before.
"""

from __future__ import annotations

import enum
import math

import numpy as np

from acquire.values.arrays import FloatArray
from acquire.values.calibration import Calibration
from acquire.values.gravity import weight
from analysis.sensor_check import Creep, LoadReading, Procedure, Readings, creep_of, moved, moved_by_noise, reading_of
from ui.session.check_setup import CheckError, CheckSetup, Step, check_steps

LEAST_LOOK_S = 2.0
"""A press does not end a look before."""
LEAST_SAMPLES = 10
CELL_S = 0.2
"""The stream is looked at in cells of this length, however it comes; the force now is the mean of the last."""
WHOLE = 0.98
"""A reading may lack so much of its time at the ends: samples are not asked for, they come."""
TOUCHED = 4.0
"""A held load that moves by so many times what is still was touched."""
OFF_PCT = 1.0
"""A force this near to what it should be, of the rated force, is right: a zero may drift by so much in a check."""
KNOWN_PCT = 10.0
"""A force must be this near, of itself, once a weight has shown the sensitivity."""
NEARER = 0.45
UNCHANGED = 0.25
"""Shares of the change that is asked for: what is right, and what is none."""


HELD = ("rest", "hold")
"""Steps that last, once the force is what it should be."""


class State(enum.Enum):
    """What the routine is waiting for."""

    LOOKING = "looking"
    CHANGE = "change"
    """For somebody to do what is asked."""
    MOVING = "moving"
    WRONG = "wrong"
    """It hangs still, but is not what was asked for."""
    HOLDING = "holding"
    DONE = "done"


class CheckRoutine:
    """Carry a check through.

    Parameters
    ----------
    setup : CheckSetup
        What is to be hung.
    procedure : Procedure
        How it goes.
    calibration : Calibration
        What counts mean: a nominal sensitivity will do to tell one weight from another.
    rated_force_n : float
        Rated force, N.

    Examples
    --------
    >>> from acquire.sensor.profile import load_profile
    >>> from analysis.sensor_check import load_check_limits
    >>> profile = load_profile("simulated")
    >>> routine = CheckRoutine(
    ...     CheckSetup(), load_check_limits().procedure, profile.nominal_calibration(), profile.rated_force_n
    ... )
    >>> routine.see(np.arange(25_000) / 1000.0, np.zeros(25_000))
    >>> routine.state.value, round(routine.look.seconds)
    ('done', 20)
    """

    def __init__(self, setup: CheckSetup, procedure: Procedure, calibration: Calibration, rated_force_n: float) -> None:
        self._setup, self._procedure, self._calibration = setup, procedure, calibration
        self._rated_n = rated_force_n
        self.steps: tuple[Step, ...] = check_steps(setup, procedure)
        self._at = 0
        self.state = State.LOOKING
        self.look: Readings | None = None
        """The unloaded sensor, once it was looked at."""
        self.readings: list[LoadReading] = []
        self.creep: Creep | None = None
        self.moved_n = 0.0
        """How far the force moved within the last reading's time, N."""
        self._time: FloatArray = np.empty(0)
        self._counts: FloatArray = np.empty(0)
        self._cell: int | None = None
        self._began: float | None = None
        self._pressed = False
        self._still_n = 0.01 * procedure.still_pct * rated_force_n
        self.zero_n = 0.0
        """The force of the unloaded sensor, once it was looked at, by the calibration as it is."""
        self._level_n = 0.0
        self._hung_kg = 0.0
        self._match_pct = procedure.match_pct
        self._gain = 1.0
        """Of the true sensitivity to that of the calibration, by the heaviest weight that was taken."""
        self._gain_kg = 0.0

    # what there is to show

    @property
    def done(self) -> bool:
        """Whether all steps have been taken."""
        return self.state is State.DONE

    @property
    def step(self) -> Step:
        """What is to be seen now; the last step when all is done."""
        return self.steps[min(self._at, len(self.steps) - 1)]

    @property
    def number(self) -> int:
        """How many steps have been taken."""
        return self._at

    @property
    def hung_kg(self) -> float:
        """What was hung on the sensor by the last step."""
        return self._hung_kg

    @property
    def force_n(self) -> float:
        """The force now, above the zero of the look."""
        recent = self._counts[self._time >= self._time[-1] - CELL_S] if len(self._time) else self._counts
        return float(self._newtons(recent).mean()) - self.zero_n if len(recent) else 0.0

    @property
    def left_s(self) -> float:
        """How much longer a look or a held load lasts, s."""
        if self.state not in {State.LOOKING, State.HOLDING}:
            return 0.0
        return max(0.0, self.step.seconds - self._span(self._began))

    @property
    def overloaded(self) -> bool:
        """Whether the sensor carries more than it may."""
        return abs(self.force_n) > self._rated_n

    @property
    def looks_like_kg(self) -> float:
        """The mass that what hangs there looks like, kg, by the sensitivity that is believed."""
        return max(0.0, self._steady_n() / self._gain / self._setup.gravity.m_per_s2)

    def shown_n(self, reading: LoadReading) -> float:
        """Return the force of a reading above the zero of the look, by the calibration as it is."""
        return float(self._newtons(np.array([reading.counts]))[0]) - self.zero_n

    # what happens

    def press(self) -> None:
        """Do the next sensible thing."""
        self._pressed = True

    def see(self, time: FloatArray, counts: FloatArray) -> None:
        """Take what came from the sensor: its seconds are the only clock there is.

        Parameters
        ----------
        time, counts : ndarray, shape (n,)
            Seconds of the stream, increasing, and raw counts; all that came since the last call, in any pieces.

        Raises
        ------
        CheckError
            If a load was waited for longer than the procedure allows; says which.
        """
        while len(time) and not self.done:
            cell = math.floor(time[0] / CELL_S + 1e-9)
            if self._cell is not None and cell != self._cell:
                self._look_again()
            self._cell = cell
            piece = max(1, int(np.searchsorted(time, (cell + 1) * CELL_S - 1e-9)))
            self._append(time[:piece], counts[:piece])
            time, counts = time[piece:], counts[piece:]

    def _append(self, time: FloatArray, counts: FloatArray) -> None:
        if self._began is None:
            self._began = float(time[0])
        self._time = np.concatenate([self._time, time])
        self._counts = np.concatenate([self._counts, counts])

    def _look_again(self) -> None:
        """Look at what there is, at the end of each fifth of a second of the stream."""
        if not len(self._time):
            return
        if self.state is State.LOOKING:
            self._looking()
        elif self.state is State.HOLDING:
            self._holding()
        else:
            self._loading()
            self._give_up()

    def _looking(self) -> None:
        span = self._span(self._began)
        wanted = self.step.seconds
        if self._pressed and span >= LEAST_LOOK_S:
            wanted = min(wanted, span)
        self._pressed = self._pressed and span < LEAST_LOOK_S
        if span < wanted or len(self._time) < LEAST_SAMPLES:
            return
        whole = Readings(time=self._time, counts=self._counts)
        self.look = whole.within(whole.time[0], whole.time[0] + max(wanted, self._span_of(LEAST_SAMPLES)))
        force = self._newtons(self._counts)
        self._still_n = max(self._still_n, moved_by_noise(self._time, force))
        recent = self._time >= self._time[-1] - self._procedure.reading_s
        self.zero_n = self._level_n = float(force[recent].mean())
        self._next(0.0)

    def _loading(self) -> None:
        """Look whether the last reading's time was still, and is what was asked for."""
        length = self._procedure.reading_s
        self._forget(before=self._time[-1] - length)
        self.moved_n = moved(self._time, self._newtons(self._counts))
        if self.moved_n > self._still_n:
            self.state = State.MOVING
            return
        if self._span(self._began) < WHOLE * length or self._span(self._time[0]) < WHOLE * length:
            return
        target, before = self._shown_n(self.step.mass_kg), self._level_n - self.zero_n
        seen, wanted = self._steady_n(), abs(target - before)
        pressed, self._pressed = (self._pressed or self._unknown) and self._may_press(seen - before, wanted), False
        if pressed or abs(seen - target) <= self._near(target, wanted):
            self._learn(seen / target if self.step.mass_kg else 0.0)
            self._accept()
        else:
            self.state = State.CHANGE if abs(seen - before) <= UNCHANGED * wanted else State.WRONG

    @property
    def _unknown(self) -> bool:
        """Whether nobody knows the sensitivity, so that the first weight shows it, whatever it looks like."""
        return bool(self._calibration.guess) and not self._gain_kg and self.step.mass_kg > 0.0

    def _learn(self, ratio: float) -> None:
        """Take the sensitivity from a weight, unless a heavier one has shown it."""
        if ratio > 0.0 and self.step.mass_kg >= self._gain_kg:
            self._gain, self._gain_kg, self._match_pct = self._gain * ratio, self.step.mass_kg, KNOWN_PCT

    def _near(self, target: float, wanted: float) -> float:
        """Return how far from the target a force may be: nearer to it than to what hung there before."""
        near = max(0.01 * self._match_pct * abs(target), 0.01 * OFF_PCT * self._rated_n)
        return max(min(near, NEARER * wanted) if wanted else near, 2.0 * self._still_n)

    def _may_press(self, change: float, wanted: float) -> bool:
        """Tell whether a press may take what is there: not the same load as before for another one."""
        return not wanted or abs(change) > TOUCHED * self._still_n

    def _accept(self) -> None:
        if self.step.purpose in HELD:
            self._began = float(self._time[0])
            self.state = State.HOLDING
            return
        self._keep(Readings(time=self._time, counts=self._counts))

    def _holding(self) -> None:
        reading = self._procedure.reading_s
        recent = self._time >= self._time[-1] - reading
        self.moved_n = moved(self._time[recent], self._newtons(self._counts[recent]))
        if self.moved_n > TOUCHED * self._still_n:
            self._began = float(self._time[-1])
            self.state = State.MOVING
            return
        enough = self._pressed and self._span(self._began) >= 2.0 * reading
        self._pressed = False
        if enough or self._span(self._began) >= self.step.seconds:
            held = Readings(time=self._time, counts=self._counts)
            if self.step.purpose == "hold":
                self.creep = creep_of(held, load_n=self._load_n(self.step.mass_kg), reading_s=reading)
            self._keep(held.within(held.time[-1] - reading, held.time[-1]))

    def _keep(self, readings: Readings) -> None:
        step = self.step
        if step.purpose != "look":
            self.readings.append(
                reading_of(
                    readings,
                    purpose=step.purpose,
                    mass_kg=step.mass_kg,
                    load_n=self._load_n(step.mass_kg),
                    run=step.run,
                )
            )
        self._level_n = float(self._newtons(readings.counts).mean())
        self._next(step.mass_kg)

    def _next(self, hung_kg: float) -> None:
        self._hung_kg = hung_kg
        self._at += 1
        self._began = None
        self.moved_n = 0.0
        self._time, self._counts = np.empty(0), np.empty(0)
        self.state = State.CHANGE if self._at < len(self.steps) else State.DONE

    def _give_up(self) -> None:
        """Give up on a load that nobody hangs, or that never hangs still."""
        if self.state is not State.HOLDING and self._span(self._began) > self._procedure.wait_s:
            key = "never_still" if self.state is State.MOVING else "not_hung"
            raise CheckError(key, mass=self.step.mass_kg, minutes=self._procedure.wait_s / 60.0, moved=self.moved_n)

    # numbers

    def _newtons(self, counts: FloatArray) -> FloatArray:
        return self._calibration.force(counts)

    def _steady_n(self) -> float:
        """Return the mean force of what is looked at, above the zero of the look."""
        return float(self._newtons(self._counts).mean()) - self.zero_n if len(self._counts) else 0.0

    def _load_n(self, mass_kg: float) -> float:
        return weight(mass_kg, self._setup.gravity.m_per_s2) if mass_kg else 0.0

    def _shown_n(self, mass_kg: float) -> float:
        """Return the force that a mass will show, by the sensitivity that is believed."""
        return self._gain * self._load_n(mass_kg)

    def _span(self, since: float | None) -> float:
        return float(self._time[-1] - since) if since is not None and len(self._time) else 0.0

    def _span_of(self, samples: int) -> float:
        return float(self._time[samples - 1] - self._time[0])

    def _forget(self, *, before: float) -> None:
        keep = self._time >= before
        self._time, self._counts = self._time[keep], self._counts[keep]
