"""A session with something in every field, and its file changed by hand."""

import datetime as dt

import numpy as np

from acquire.values.calibration import Calibration, CalibrationPoint
from acquire.values.records import Note, Person, Session, SessionContext, SetAside, Trial, TrialContext

MORNING = dt.datetime(2026, 3, 2, 9, 30, 0, 250_000, tzinfo=dt.timezone(dt.timedelta(hours=1)))
CALIBRATION = Calibration(
    newtons_per_count=-0.002451,
    zero_counts=8123.5,
    rated_force_n=1000.0,
    limit_counts=(-8388608, 8388607),
    serial="c-7",
    date=dt.date(2026, 1, 31),
    by="L\u00f8",
    points=(CalibrationPoint(load_n=0.0, counts=8123.0), CalibrationPoint(load_n=98.0665, counts=-31880.5)),
)
TRIAL = Trial(
    time=np.array([10.0, 10.001, 10.0025]),
    counts=np.array([-(2**31), 0, 2**31 - 1], dtype=np.int32),
    calibration=CALIBRATION,
    zero_counts=8120.25,
    context=TrialContext(
        action="knee-extension",
        side="left",
        method="belt",
        examiner="e2",
        examiner_limit_n=250.0,
        lever_arm_m=0.31,
        resting_force_n=-4.5,
        started=MORNING,
    ),
    damage=("2 packets failed their checksum",),
    verdict={
        "plateau_force_n": 231.5,
        "rfd_n_per_s": {"0-50": None},
        "faults": [{"code": "jerk"}],
        "verdict": "rejected",
    },
    set_aside=(SetAside(aside=True, reason="talked \u2013 twice", by="e2", at=MORNING),),
    notes=(Note(text="the knee hurt \u2013 a little", by="e1", at=MORNING),),
)
PLAIN = Trial(
    time=np.array([0.0, 0.5]),
    counts=np.array([0.1, np.nan]),
    calibration=Calibration(newtons_per_count=1.0, rated_force_n=500.0),
    zero_counts=0.0,
)
SESSION = Session(
    context=SessionContext(
        session="s-1",
        started=MORNING,
        person=Person(code="P\u00e4", sex="female", age_years=31.5, mass_kg=64.0, height_m=1.7, dominant_side="left"),
        examiner="e1",
        sensor="demo",
        cautions_acknowledged=MORNING,
        program_version="0.1.0",
        invented=True,
    ),
    trials=(TRIAL, PLAIN),
)


def same_trial(got, expected):
    arrays_agree = all(
        getattr(got, name).dtype == getattr(expected, name).dtype
        and np.array_equal(getattr(got, name), getattr(expected, name), equal_nan=True)
        for name in ("time", "counts")
    )
    others = ("calibration", "zero_counts", "context", "damage", "verdict", "set_aside", "notes")
    return arrays_agree and all(getattr(got, name) == getattr(expected, name) for name in others)
