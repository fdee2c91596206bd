"""A cell on a bench, without a wire: it is played as fast as it can be, and somebody hangs what is asked for."""

import datetime as dt
import itertools
from functools import cache

import msgspec
import numpy as np

from acquire.decoders import decoder_for
from acquire.sensor.profile import load_profile
from acquire.simulation.cell import Cell, LoadedDevice
from acquire.values.gravity import weight
from analysis.sensor_check import (
    Hung,
    LimitsUsed,
    SensorCheck,
    Stream,
    assess_loads,
    assess_unloaded,
    find,
    load_check_limits,
)
from ui.session.check_routine import CheckRoutine
from ui.session.check_setup import CheckSetup

PROFILE = msgspec.structs.replace(
    load_profile("packets-1k"), rate_hz=200.0, rated_force_n=500.0, counts_per_newton=4000.0, start="", stop=""
)
LIMITS = load_check_limits()


class Bench:
    """A routine, a cell, and whoever hangs the weights.

    Parameters
    ----------
    setup : CheckSetup
        What is to be done.
    hands : callable
        Given the step, returns the mass that is hung for it; None leaves what hangs there.
    """

    def __init__(
        self, setup, *, hands=lambda step: step.mass_kg, procedure=None, piece_s=0.05, profile=PROFILE, **cell
    ):
        self.procedure = procedure or LIMITS.procedure
        self.device = LoadedDevice(profile, Cell(**{"full_n": 200.0, **cell}))
        self.routine = CheckRoutine(setup, self.procedure, profile.nominal_calibration(), profile.rated_force_n)
        self.hands = hands
        self.seconds = 0.0
        self._setup, self._profile = setup, profile
        self._frames, self._decoder = self.device.frames(), decoder_for(profile)
        self._piece_s = piece_s
        self._heard = 0

    def hang(self, mass):
        self.device.load(weight(mass, self._setup.gravity.m_per_s2) if mass else 0.0)

    def play(self, seconds):
        """Go on for so long, or until the routine is done; the hands do what is asked once for each step."""
        end = self.seconds + seconds
        while self.seconds < end and not self.routine.done:
            if self.routine.number > self._heard:
                self._heard = self.routine.number
                mass = self.hands(self.routine.step)
                if mass is not None:
                    self.hang(mass)
            self._feed()
        return self

    def to_end(self, most_s=2000.0):
        self.play(most_s)
        assert self.routine.done, f"stuck in {self.routine.state} at {self.routine.step}"
        return self.routine

    def _feed(self):
        rate = self._profile.rate_hz
        frames = itertools.islice(self._frames, max(1, round(self._piece_s * rate / 10)))
        counts = np.concatenate([event.counts for frame in frames for event in self._decoder.feed(frame.data)])
        time = self.seconds + np.arange(len(counts)) / rate
        self.seconds += len(counts) / rate
        self.routine.see(time, counts.astype(float))


def setup(*masses, **changes):
    return CheckSetup(masses_kg=masses, **{"gravity_m_per_s2": 9.81, **changes})


@cache
def whole_check():
    """Return a check of a good cell, all of it, made once."""
    chosen = setup(5.0, 10.0, 20.0, full=True, serial="LC-1", by="X-1")
    short = msgspec.structs.replace(LIMITS.procedure, look_s=5.0, rest_s=4.0, creep_s=10.0)
    routine = Bench(chosen, procedure=short, noise_n=0.1, zero_n=1.0).to_end()
    calibration = PROFILE.nominal_calibration()
    rated = PROFILE.rated_force_n
    stream = Stream(nominal_rate_hz=200.0, rate_hz=200.1, rate_uncertainty_hz=0.05, samples=60_000, lost=0, damaged=0)
    unloaded = assess_unloaded(routine.look, calibration, stream)
    hung = Hung(gravity=chosen.gravity, mass_tolerance_pct=0.05)
    loaded = assess_loads(routine.readings, routine.creep, hung, rated_force_n=rated)
    return SensorCheck(
        made=dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC),
        sensor=PROFILE.name,
        serial="LC-1",
        by="X-1",
        calibration=calibration,
        rated_force_n=rated,
        limits=LimitsUsed(name=LIMITS.name, hash=LIMITS.hash),
        gravity=chosen.gravity,
        mass_tolerance_pct=0.05,
        unloaded=unloaded,
        readings=tuple(routine.readings),
        loaded=loaded,
        findings=find(unloaded, loaded, calibration=calibration, rated_force_n=rated, limits=LIMITS),
    )


def moved(check, newtons, **changes):
    """Return a check whose zero is so much further."""
    counts = check.unloaded.zero_counts + newtons / check.calibration.newtons_per_count
    unloaded = msgspec.structs.replace(
        check.unloaded, zero_counts=counts, zero_n=check.unloaded.zero_n + newtons, **changes
    )
    return msgspec.structs.replace(check, unloaded=unloaded)
