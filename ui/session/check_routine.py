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
from analysis.sensor_check import Creep, LoadReading, Procedure, Purpose, Readings, creep_of, reading_of
from ui.session.check_setup import CheckError, CheckSetup, Step, check_steps
from ui.session.load_watch import CELL_S, LEAST_SAMPLES, LoadWatch, Sight

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


class Choice(enum.Enum):
    """A next state that depends on the steps."""

    HOLD_OR_NEXT = "hold or next"
    """HOLDING where the step lasts, else as NEXT."""
    NEXT = "next"
    """What was seen is kept; then CHANGE for the next step, or DONE after the last."""


WAITING = (State.CHANGE, State.MOVING, State.WRONG)
"""For a load."""

TABLE: dict[tuple[State, Sight], State | Choice] = {
    (State.LOOKING, Sight.OVER): Choice.NEXT,
    **{(state, Sight.MOVING): State.MOVING for state in WAITING},
    **{(state, Sight.AS_BEFORE): State.CHANGE for state in WAITING},
    **{(state, Sight.OTHER): State.WRONG for state in WAITING},
    **{(state, Sight.AS_ASKED): Choice.HOLD_OR_NEXT for state in WAITING},
    (State.HOLDING, Sight.TOUCHED): State.MOVING,
    (State.HOLDING, Sight.OVER): Choice.NEXT,
}
"""From a state and what is seen to the next state; what is not here changes nothing."""


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
        self._procedure = procedure
        self.steps: tuple[Step, ...] = check_steps(setup, procedure)
        self.number = 0
        """How many steps have been taken."""
        self.state = State.LOOKING
        self.load = LoadWatch(setup, procedure, calibration, rated_force_n)
        """What hangs on the sensor."""
        self.look: Readings | None = None
        """The unloaded sensor, once it was looked at."""
        self.readings: list[LoadReading] = []
        self.creep: Creep | None = None
        self.hung_kg = 0.0
        """What was hung on the sensor by the last step."""
        self._cell: int | None = None
        self._pressed = False

    # what there is to show

    @property
    def done(self) -> bool:
        """Whether all steps have been taken."""
        return self.state is State.DONE

    @property
    def step(self) -> Step:
        """What is to be seen now; the last step when all is done."""
        return self.steps[min(self.number, len(self.steps) - 1)]

    @property
    def left_s(self) -> float:
        """How much longer a look or a held load lasts, s."""
        if self.state not in {State.LOOKING, State.HOLDING}:
            return 0.0
        return max(0.0, self.step.seconds - self.load.seconds)

    def shown_n(self, reading: LoadReading) -> float:
        """Return the force of a reading above the zero of the look, by the calibration as it is."""
        return float(self.load.newtons(np.array([reading.counts]))[0]) - self.load.zero_n

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
            if self._cell is not None and cell != self._cell and len(self.load.time):
                self._look_again()
            self._cell = cell
            piece = max(1, int(np.searchsorted(time, (cell + 1) * CELL_S - 1e-9)))
            self.load.append(time[:piece], counts[:piece])
            time, counts = time[piece:], counts[piece:]

    def _look_again(self) -> None:
        """Look at what there is, at the end of each fifth of a second of the stream."""
        to = TABLE.get((self.state, self._sight()))
        if to is Choice.HOLD_OR_NEXT and self.step.purpose in HELD:
            self.load.begin_hold()
            self.state = State.HOLDING
        elif isinstance(to, Choice):
            self._keep()
            self._next()
        elif to is not None:
            self.state = to
        if self.state in WAITING:
            self._check_patience()

    def _sight(self) -> Sight:
        """Return what is seen; a press is used up by what it may decide."""
        pressed, step = self._pressed, self.step
        if self.state is State.LOOKING:
            sight = self.load.see_unloaded(step.seconds, pressed=pressed)
            self._pressed = pressed and sight is Sight.SHORT
        elif self.state is State.HOLDING:
            sight = self.load.see_held(step.seconds, pressed=pressed)
            self._pressed = False
        else:
            sight = self.load.see_load(step.mass_kg, pressed=pressed)
            self._pressed = pressed and sight in {Sight.SHORT, Sight.MOVING}
        return sight

    def _keep(self) -> None:
        """Keep what was seen of the step."""
        purpose = self.step.purpose
        if purpose == "look":
            self._keep_look()
        else:
            self._keep_reading(purpose)

    def _keep_look(self) -> None:
        whole = self.load.readings
        begin, least = whole.time[0], whole.time[LEAST_SAMPLES - 1] - whole.time[0]
        self.look = whole.within(begin, begin + max(min(self.step.seconds, self.load.seconds), least))
        self.load.take_zero()

    def _keep_reading(self, purpose: Purpose) -> None:
        step, reading_s, seen = self.step, self._procedure.reading_s, self.load.readings
        load_n = self.load.load_n(step.mass_kg)
        if purpose == "hold":
            self.creep = creep_of(seen, load_n=load_n, reading_s=reading_s)
        last = seen.within(seen.time[-1] - reading_s, seen.time[-1])
        self.readings.append(reading_of(last, purpose=purpose, mass_kg=step.mass_kg, load_n=load_n, run=step.run))
        self.load.take_level(last)

    def _next(self) -> None:
        self.hung_kg = self.step.mass_kg
        self.number += 1
        self.load.begin_step()
        self.state = State.CHANGE if self.number < len(self.steps) else State.DONE

    def _check_patience(self) -> None:
        """Raise when nobody hangs the load, or it never hangs still."""
        if self.load.seconds > self._procedure.wait_s:
            key = "never_still" if self.state is State.MOVING else "not_hung"
            minutes = self._procedure.wait_s / 60.0
            raise CheckError(key, mass=self.step.mass_kg, minutes=minutes, moved=self.load.moved_n)
