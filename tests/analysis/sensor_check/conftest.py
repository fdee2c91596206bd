"""A check made up of known numbers: loads up and down on a cell whose errors are a function of the load."""

import datetime as dt
from typing import NamedTuple

import numpy as np
import pytest

from acquire.values.calibration import Calibration
from acquire.values.gravity import local_gravity, weight
from analysis.sensor_check import Hung, LimitsUsed, LoadReading, SensorCheck, Stream, assess_loads, find
from analysis.sensor_check.limits import load_check_limits
from analysis.sensor_check.unloaded import Unloaded

RATED_N = 500.0
COUNTS_PER_NEWTON = 4000.0
ZERO = 1234.0
MASSES = (5.0, 10.0, 15.0, 20.0)
G = local_gravity(latitude_deg=52.0, height_m=80.0)
STREAM = Stream(nominal_rate_hz=1000.0, rate_hz=999.0, rate_uncertainty_hz=0.1, samples=30_000, lost=0, damaged=0)


class Where(NamedTuple):
    """One reading to be: the load, N, the number of the run, and ``zero``, ``up`` or ``down``."""

    load: float
    run: int
    way: str


class Runs:
    """Readings of runs up and down; `read` says what the cell reads, in N, of each `Where`."""

    def __init__(self, read=lambda at: at.load, *, masses=MASSES, runs=2, slope=COUNTS_PER_NEWTON, noise=0.0):
        self._read, self._slope = read, slope
        self._chance = np.random.default_rng(3)
        self._noise = noise
        self.readings = []
        for run in range(1, runs + 1):
            self._hang("zero", run, 0.0)
            for mass in masses:
                self._hang("up", run, mass)
            for mass in (*reversed(masses[:-1]), 0.0):
                self._hang("down", run, mass)

    def _hang(self, purpose, run, mass):
        load = weight(mass, G.m_per_s2) if mass else 0.0
        newtons = self._read(Where(load, run, purpose)) + self._noise * self._chance.standard_normal()
        self.readings.append(
            LoadReading(
                purpose=purpose,
                run=run,
                mass_kg=mass,
                load_n=load,
                counts=ZERO + self._slope * newtons,
                standard_counts=abs(self._slope) * self._noise,
                degrees_of_freedom=7,
                at_s=10.0 * len(self.readings),
            )
        )

    def assess(self, *, creep=None, tolerance_pct=0.05, gravity=G):
        hung = Hung(gravity=gravity, mass_tolerance_pct=tolerance_pct)
        return assess_loads(self.readings, creep, hung, rated_force_n=RATED_N)


@pytest.fixture
def runs():
    return Runs


def seen(**changes):
    values = {
        "seconds": 30.0,
        "samples": 30_000,
        "zero_counts": ZERO,
        "zero_n": 0.1,
        "zero_uncertainty_n": 0.01,
        "noise_n": 0.1,
        "noise_uncertainty_n": 0.001,
        "drift_n_per_min": 0.02,
        "drift_uncertainty_n_per_min": 0.01,
        "moved_n": 0.01,
        "tone": None,
        "rate_hz": 999.0,
        "rate_uncertainty_hz": 0.2,
        "nominal_rate_hz": 1000.0,
        "step_counts": 1.0,
        "received": 30_000,
        "lost": 0,
        "damaged": 0,
    }
    return Unloaded(**{**values, **changes})


@pytest.fixture
def look():
    return seen


@pytest.fixture
def check(runs):
    """A whole check of a good sensor, to be changed."""

    def make(**changes):
        calibration = changes.pop("calibration", Calibration(newtons_per_count=1.0 / COUNTS_PER_NEWTON))
        limits = load_check_limits()
        measured = changes.pop("runs", runs(noise=0.002))
        loaded = measured.assess()
        unloaded = changes.pop("unloaded", seen())
        values = {
            "made": dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC),
            "sensor": "packets-1k",
            "serial": "LC-1",
            "calibration": calibration,
            "rated_force_n": RATED_N,
            "limits": LimitsUsed(name=limits.name, hash=limits.hash),
            "gravity": G,
            "mass_tolerance_pct": 0.05,
            "unloaded": unloaded,
            "readings": tuple(measured.readings),
            "loaded": loaded,
            "findings": find(unloaded, loaded, calibration=calibration, rated_force_n=RATED_N, limits=limits),
        }
        return SensorCheck(**{**values, **changes})

    return make
