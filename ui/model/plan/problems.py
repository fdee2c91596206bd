"""What can keep a planned session from beginning, and what can deserve a second look: codes with their values.

`ui.model.plan.checks` finds them, `ui.model.plan.text` says them.
"""

from __future__ import annotations

import enum
from typing import NamedTuple

from acquire.errors import AcquireError
from analysis.errors import AnalysisError


class ProblemCode(enum.Enum):
    """What is wrong; the value is its key in the words."""

    NO_PERSON = "no_person"
    NO_EXAMINER = "no_examiner"
    NO_SIDES = "no_sides"
    NO_ACTIONS = "no_actions"
    NO_LEVER = "no_lever"
    NO_SENSOR = "no_sensor"
    NO_PORT = "no_port"
    NO_FILE = "no_file"
    CAUTIONS = "cautions"
    PERSON = "person"
    EXAMINER = "examiner"
    AGE = "age"
    MASS = "mass"
    STATURE = "height"
    LIMIT = "limit"
    TRIALS = "trials"
    REST = "rest"
    BATTERY = "battery"
    LEVER = "lever"
    SENSOR = "sensor"
    CALIBRATION = "calibration"
    PROTOCOL = "protocol"
    RESULTS = "results"
    FOLDER = "folder"
    EXISTS = "exists"
    UNWRITABLE = "unwritable"


class Problem(NamedTuple):
    """One thing that keeps a session from beginning."""

    code: ProblemCode
    low: float | None = None
    """The least that is possible, in the unit of the field; None where nothing bounds it."""
    high: float | None = None
    """The most that is possible."""
    error: AcquireError | AnalysisError | None = None
    """Why a file cannot be read."""


class PlanWarning(enum.Enum):
    """What deserves a second look; the value is its key in the words."""

    NAME = "name"
    LIMIT = "limit"
    OTHER_SENSOR = "other_sensor"
    SIMULATED = "simulated"

    @property
    def of_people(self) -> bool:
        """Whether it is about person and examiner; else it is about the sensor."""
        return self in {PlanWarning.NAME, PlanWarning.LIMIT}
