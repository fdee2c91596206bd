import numpy as np
import pytest

from analysis.audit.facts import TrialFacts
from analysis.audit.table import fact_table
from analysis.trial.technique import Technique


@pytest.fixture
def table_of():
    """A table of trials given as dicts; what is not said is ordinary."""

    def made(*trials):
        usual = {
            "session": "s",
            "person": "P-1",
            "examiner": "EX-1",
            "action": "hip-flexion",
            "side": "left",
            "method": "hand",
            "sensor": "cell",
            "started_s": 0.0,
            "accepted": True,
            "aside": False,
            "faults": (),
            "warnings": (),
            "plateau_n": 100.0,
            "lever_arm_m": None,
            "zero_n": 0.0,
            "newtons_per_count": 1.0,
        }
        files = {}
        for number, trial in enumerate(trials, start=1):
            said = {**usual, "number": number, "technique": Technique(), **trial}
            said["accepted"] = not said["faults"]
            file = said.pop("file", "a.h5")
            files.setdefault(file, []).append(TrialFacts(**said))
        return fact_table(files.items())

    return made


@pytest.fixture
def chance():
    return np.random.default_rng(11)
