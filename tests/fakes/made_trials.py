"""Trials whose numbers are known by hand: straight ramp, flat plateau, no noise unless it is asked for."""

import datetime as dt
from dataclasses import replace

import numpy as np

from acquire.values.calibration import Calibration, CalibrationPoint, fit_calibration
from acquire.values.records import Note, SetAside, Trial, TrialContext
from acquire.values.remarks import TrialEnd
from analysis.trial.judged_trial import judge_trial
from analysis.trial.protocol import load_protocol

DAY = dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC)
PROTOCOL = load_protocol()

NOMINAL = Calibration(newtons_per_count=0.01)

CALIBRATED = fit_calibration(
    [CalibrationPoint(load_n=n, counts=c) for n, c in [(0.0, 0.0), (100.0, 10150.0), (200.0, 20000.0)]],
    rated_force_n=1000.0,
    serial="LC-1",
    date=dt.date(2026, 1, 1),
)
"""By hand: 0.01 N a count, errors of -0.5, 1.0 and -0.5 N, scatter root 1.5 N with one degree of freedom, relative
uncertainty of the slope root(1.5 / 20000)."""

EXACT = fit_calibration(
    [CalibrationPoint(load_n=n, counts=100.0 * n) for n in (0.0, 100.0, 200.0, 300.0)],
    rated_force_n=1000.0,
    date=dt.date(2026, 1, 1),
)
"""By hand: 0.01 N a count, nothing off the line; what is left is what the loads themselves may be off by."""


def made_trial(
    plateau_n,
    *,
    ramp_s=1.5,
    zero_n=0.0,
    zero_after_n=None,
    noise_n=0.0,
    rest_before_s=1.0,
    rest_after_s=1.8,
    calibration=CALIBRATED,
    aside=None,
    note=None,
    **context,
):
    """Return a trial at 1 kHz; it keeps the protocol unless `ramp_s` or something else breaks it."""
    after = zero_n if zero_after_n is None else zero_after_n
    corners = np.cumsum([0.0, rest_before_s, ramp_s, 4.5, 0.2, rest_after_s])
    time = np.arange(0.0, corners[-1], 0.001)
    force = np.interp(time, corners, [zero_n, zero_n, zero_n + plateau_n, zero_n + plateau_n, after, after])
    force += noise_n * (1 - 2 * (np.arange(len(time)) % 2))
    counts = np.rint(force / calibration.newtons_per_count).astype(np.int32)
    fields = {"action": "knee-extension", "side": "right", "method": "belt", **context}
    decided = () if aside is None else (SetAside(aside=True, reason=aside, by="X-1", at=DAY),)
    return Trial(
        time=time,
        counts=counts,
        calibration=calibration,
        zero_counts=0.0,
        context=TrialContext(**fields),
        set_aside=decided,
        notes=() if note is None else (Note(text=note, by="X-1", at=DAY),),
    )


def judged(*trials):
    """Return trials judged, numbered from 1."""
    return [judge_trial(trial, PROTOCOL, number=number) for number, trial in enumerate(trials, start=1)]


def cut_off(trial, seconds):
    """Return what there would be of a trial if the recording had ended after so many seconds."""
    count = int(np.searchsorted(trial.time, seconds))
    return replace(trial, time=trial.time[:count], counts=trial.counts[:count], damage=(TrialEnd.ENDED,))
