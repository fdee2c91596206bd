"""What hangs on a sensor during a check: how still, how heavy, and whether it is what was asked for."""

from __future__ import annotations

import enum

import numpy as np

from acquire.values.arrays import FloatArray
from acquire.values.calibration import Calibration
from acquire.values.gravity import weight
from analysis.sensor_check import Procedure, Readings, moved, moved_by_noise
from ui.session.check_setup import CheckSetup

CELL_S = 0.2
"""The force now is the mean of so long."""
LEAST_LOOK_S = 2.0
"""A press does not end a look before."""
LEAST_SAMPLES = 10
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


class Sight(enum.Enum):
    """What is seen of the sensor."""

    SHORT = "short"
    """It has not lasted long enough yet."""
    MOVING = "moving"
    AS_ASKED = "as asked"
    AS_BEFORE = "as before"
    """Nobody has hung anything, or taken anything off."""
    OTHER = "other"
    """It hangs still, but is not what was asked for."""
    TOUCHED = "touched"
    """A load that is held moved."""
    OVER = "over"
    """The unloaded sensor was seen, or a load held, for long enough."""


class LoadWatch:
    """The samples of the step that is under way, and what is known of zero and sensitivity.

    Parameters
    ----------
    setup : CheckSetup
        Where it hangs.
    procedure : Procedure
        How long and how still a load must hang.
    calibration : Calibration
        What counts mean: a nominal sensitivity will do to tell one weight from another.
    rated_force_n : float
        Rated force, N; a guess where the calibration has none.
    """

    def __init__(self, setup: CheckSetup, procedure: Procedure, calibration: Calibration, rated_force_n: float) -> None:
        self._setup, self._procedure, self._calibration = setup, procedure, calibration
        self._rated_n = rated_force_n
        self.time: FloatArray = np.empty(0)
        self.counts: FloatArray = np.empty(0)
        self.began: float | None = None
        """When the step, or the load that is held, began, s of the stream."""
        self.moved_n = 0.0
        """How far the force moved within the last reading's time, N."""
        self.zero_n = 0.0
        """The force of the unloaded sensor, by the calibration as it is."""
        self._level_n = 0.0
        self._still_n = 0.01 * procedure.still_pct * rated_force_n
        self._match_pct = procedure.match_pct
        self._gain = 1.0
        """Of the true sensitivity to that of the calibration, by the heaviest weight that was taken."""
        self._gain_kg = 0.0

    # the samples

    def append(self, time: FloatArray, counts: FloatArray) -> None:
        """Take more of the stream."""
        if self.began is None:
            self.began = float(time[0])
        self.time = np.concatenate([self.time, time])
        self.counts = np.concatenate([self.counts, counts])

    def begin_step(self) -> None:
        """Forget the samples: another step is to be seen."""
        self.began, self.moved_n = None, 0.0
        self.time, self.counts = np.empty(0), np.empty(0)

    def begin_hold(self) -> None:
        """Let the time of a held load begin with the reading that showed it."""
        self.began = float(self.time[0])

    @property
    def readings(self) -> Readings:
        """All samples of the step that are kept."""
        return Readings(time=self.time, counts=self.counts)

    @property
    def seconds(self) -> float:
        """How long the step, or the load that is held, has lasted, s."""
        return self._span(self.began)

    def _span(self, since: float | None) -> float:
        return float(self.time[-1] - since) if since is not None and len(self.time) else 0.0

    # forces

    def newtons(self, counts: FloatArray) -> FloatArray:
        """Return forces by the calibration as it is, N."""
        return self._calibration.force(counts)

    @property
    def force_n(self) -> float:
        """The force now, above the zero."""
        recent = self.counts[self.time >= self.time[-1] - CELL_S] if len(self.time) else self.counts
        return float(self.newtons(recent).mean()) - self.zero_n if len(recent) else 0.0

    @property
    def steady_n(self) -> float:
        """The mean force of what is kept, above the zero."""
        return float(self.newtons(self.counts).mean()) - self.zero_n if len(self.counts) else 0.0

    @property
    def overloaded(self) -> bool:
        """Whether the sensor carries more than it may; False where nobody knows what that is."""
        most = self._calibration.rated_force_n
        return most is not None and abs(self.force_n) > most

    @property
    def looks_like_kg(self) -> float:
        """The mass that what hangs there looks like, kg, by the sensitivity that is believed."""
        return max(0.0, self.steady_n / self._gain / self._setup.gravity.m_per_s2)

    def load_n(self, mass_kg: float) -> float:
        """Return the weight of a mass, N."""
        return weight(mass_kg, self._setup.gravity.m_per_s2) if mass_kg else 0.0

    # what is learnt of the sensor

    def take_zero(self) -> None:
        """Take the unloaded sensor's noise for what is still, and the force of its last reading for the zero."""
        force = self.newtons(self.counts)
        self._still_n = max(self._still_n, moved_by_noise(self.time, force))
        recent = self.time >= self.time[-1] - self._procedure.reading_s
        self.zero_n = self._level_n = float(force[recent].mean())

    def take_level(self, readings: Readings) -> None:
        """Remember what the last load weighed, so that the next change can be told from none."""
        self._level_n = float(self.newtons(readings.counts).mean())

    def _learn(self, mass_kg: float) -> None:
        """Take the sensitivity from a weight, unless a heavier one has shown it."""
        ratio = self.steady_n / self._expected_n(mass_kg) if mass_kg else 0.0
        if ratio > 0.0 and mass_kg >= self._gain_kg:
            self._gain, self._gain_kg, self._match_pct = self._gain * ratio, mass_kg, KNOWN_PCT

    # what is seen

    def see_load(self, mass_kg: float, *, pressed: bool) -> Sight:
        """Return what the last reading's time shows of a load that was asked for.

        Parameters
        ----------
        mass_kg : float
            What was asked for; the sensitivity is learnt from it once it hangs there.
        pressed : bool
            Whether somebody says that it hangs there.
        """
        length = self._procedure.reading_s
        keep = self.time >= self.time[-1] - length
        self.time, self.counts = self.time[keep], self.counts[keep]
        self.moved_n = moved(self.time, self.newtons(self.counts))
        if self.moved_n > self._still_n:
            return Sight.MOVING
        if self.seconds < WHOLE * length or self._span(float(self.time[0])) < WHOLE * length:
            return Sight.SHORT
        expected, before = self._expected_n(mass_kg), self._level_n - self.zero_n
        changed, wanted = self.steady_n - before, abs(expected - before)
        # nobody knows the sensitivity: the first weight shows it, whatever it looks like
        unknown = bool(self._calibration.guess) and not self._gain_kg and mass_kg > 0.0
        taken = (pressed or unknown) and (not wanted or abs(changed) > TOUCHED * self._still_n)
        if taken or abs(self.steady_n - expected) <= self._near(expected, wanted):
            self._learn(mass_kg)
            return Sight.AS_ASKED
        return Sight.AS_BEFORE if abs(changed) <= UNCHANGED * wanted else Sight.OTHER

    def see_held(self, seconds: float, *, pressed: bool) -> Sight:
        """Return how a load is held that is to be held for so long; when it is touched, its time begins anew."""
        reading = self._procedure.reading_s
        recent = self.time >= self.time[-1] - reading
        self.moved_n = moved(self.time[recent], self.newtons(self.counts[recent]))
        if self.moved_n > TOUCHED * self._still_n:
            self.began = float(self.time[-1])
            return Sight.TOUCHED
        enough = 2.0 * reading if pressed else seconds
        return Sight.OVER if self.seconds >= min(enough, seconds) else Sight.SHORT

    def see_unloaded(self, seconds: float, *, pressed: bool) -> Sight:
        """Return whether the unloaded sensor has been seen for so long, or long enough for a press to end it."""
        enough = min(LEAST_LOOK_S, seconds) if pressed else seconds
        return Sight.OVER if self.seconds >= enough and len(self.time) >= LEAST_SAMPLES else Sight.SHORT

    def _expected_n(self, mass_kg: float) -> float:
        """Return the force that a mass will show, by the sensitivity that is believed."""
        return self._gain * self.load_n(mass_kg)

    def _near(self, expected: float, wanted: float) -> float:
        """Return how far from the expected a force may be: nearer to it than to what hung there before."""
        near = max(0.01 * self._match_pct * abs(expected), 0.01 * OFF_PCT * self._rated_n)
        return max(min(near, NEARER * wanted) if wanted else near, 2.0 * self._still_n)
