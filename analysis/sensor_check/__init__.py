"""A check of a sensor: what it did without a load and under known ones, what that comes to, and how sure it is.

::

    readings      stretches of counts; means with their type A uncertainty
    unloaded, hum zero, drift, noise, mains
    weighing, loads, budget   deflections -> line, errors, budget of a force
    verdict       each finding against a file of limits (`limits`)
    record        all of it as one value, `SensorCheck`
    comparison    one sensor against another that carries the same force

In come counts and known masses; out comes a `SensorCheck`. What to hang next is asked by `ui.session.check_routine`,
which the command line and the window share. Which line or term a number belongs to stands at the top of `loads`; the
sources of terms and limits stand in ``analysis/data/sensor-check/hand-held.toml``. May import: statistics, acquire's
values.
"""

from analysis.sensor_check.budget import Figure, ForceBudget
from analysis.sensor_check.limits import CheckLimits, Procedure, load_check_limits
from analysis.sensor_check.loads import Loaded, assess_loads
from analysis.sensor_check.readings import Readings, moved, moved_by_noise
from analysis.sensor_check.record import LimitsUsed, SensorCheck
from analysis.sensor_check.unloaded import Stream, Unloaded, assess_unloaded
from analysis.sensor_check.verdict import Finding, Status, find, too_old, zero_moved
from analysis.sensor_check.weighing import Creep, Hung, LoadReading, Purpose, creep_of, reading_of

__all__ = [
    "CheckLimits",
    "Creep",
    "Figure",
    "Finding",
    "ForceBudget",
    "Hung",
    "LimitsUsed",
    "LoadReading",
    "Loaded",
    "Procedure",
    "Purpose",
    "Readings",
    "SensorCheck",
    "Status",
    "Stream",
    "Unloaded",
    "assess_loads",
    "assess_unloaded",
    "creep_of",
    "find",
    "load_check_limits",
    "moved",
    "moved_by_noise",
    "reading_of",
    "too_old",
    "zero_moved",
]
