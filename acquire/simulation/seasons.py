"""Three invented sessions of one rower of a made-up crew: a screening each season, all thirteen actions, both sides.

Made at once, without a sensor that sends: what a report shows over months. Forces and lever arms are of the order
that handbooks give for adults; they are nobody's. Something goes wrong in each session, as it does in practice: trials
that break the protocol, one set aside, a side without a trial that counts, an action whose lever arm nobody measured.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import msgspec
import numpy as np

from acquire.simulation.efforts import FAULTY, GOOD, Effort, simulate
from acquire.simulation.scenario import EXAMINER, EXAMINER_LIMIT_N, PERSON
from acquire.values.calibration import Calibration, CalibrationPoint, fit_calibration
from acquire.values.records import Method, Session, SessionContext, SetAside, Side, Trial, TrialContext

RATE_HZ = 320.0
COUNTS_PER_NEWTON = 200.0
ZERO_COUNTS = 1200.0
SENSOR = "bridge-320"


class Item(NamedTuple):
    """One action as it is in the last season."""

    action: str
    right_n: float
    left_n: float
    lever_arm_m: float | None
    method: Method = "hand"
    earlier: tuple[float, float] = (0.95, 0.97)
    """What the right side had in the two seasons before, as a share."""


ITEMS = (
    Item("shoulder-flexion", 142.0, 137.0, 0.25),
    Item("shoulder-extension", 151.0, 149.0, 0.25),
    Item("shoulder-abduction", 124.0, 121.0, 0.25, earlier=(0.99, 1.01)),
    Item("shoulder-external-rotation", 96.0, 88.0, 0.23, earlier=(0.78, 0.9)),
    Item("shoulder-internal-rotation", 118.0, 112.0, 0.23),
    Item("elbow-flexion", 186.0, 178.0, 0.24, earlier=(0.92, 0.96)),
    Item("elbow-extension", 132.0, 128.0, 0.24),
    Item("wrist-extension", 92.0, 86.0, None),
    Item("hip-flexion", 228.0, 221.0, 0.37),
    Item("hip-abduction", 158.0, 121.0, 0.39, earlier=(0.97, 0.98)),
    Item("knee-flexion", 212.0, 201.0, 0.34, "belt", (0.96, 0.99)),
    Item("knee-extension", 548.0, 521.0, 0.34, "belt", (0.85, 0.92)),
    Item("ankle-dorsiflexion", 204.0, 198.0, 0.16),
)

SHARES = (0.965, 1.0, 0.985)
"""The trials of a set, as a share of its best."""

SEASONS = (
    (dt.datetime(2025, 10, 13, 9, 30, tzinfo=dt.UTC), 72.5),
    (dt.datetime(2026, 1, 19, 9, 30, tzinfo=dt.UTC), 71.8),
    (dt.datetime(2026, 4, 20, 9, 30, tzinfo=dt.UTC), 71.0),
)
"""When each session began, and the mass of the person then, kg."""

WRONG: dict[tuple[str, Side], tuple[str, ...]] = {
    ("shoulder-flexion", "right"): ("fast-ramp",),
    ("shoulder-abduction", "left"): ("preload",),
    ("elbow-flexion", "left"): ("short-hold",),
    ("hip-abduction", "right"): ("examiner-pushed",),
    ("hip-flexion", "left"): ("fading",),
    ("knee-extension", "right"): ("overshoot",),
}
"""What goes wrong before a set is good."""

NEVER_GOOD: dict[tuple[str, Side], tuple[str, ...]] = {
    ("shoulder-internal-rotation", "left"): ("shake", "gave-way", "shake")
}
"""Sets of the last season of which no trial counts."""

ONE_ONLY: tuple[str, Side] = ("ankle-dorsiflexion", "left")
"""The set of the last season that was broken off after one trial."""

SET_ASIDE: tuple[str, Side] = ("elbow-extension", "right")
"""The set of the last season of which a person set the first trial aside."""


def seasonal_sessions() -> tuple[Session, ...]:
    """Return the three sessions, the first one first; the same at each call."""
    return tuple(_session(number) for number in range(len(SEASONS)))


def calibration() -> Calibration:
    """Return the invented calibration that all sessions share: six loads, with residuals."""
    loads = (0.0, 50.0, 100.0, 200.0, 400.0, 600.0)
    errors_n = (0.04, -0.06, 0.05, 0.07, -0.13, 0.06)
    return fit_calibration(
        [
            CalibrationPoint(load_n=load, counts=ZERO_COUNTS + COUNTS_PER_NEWTON * (load + error))
            for load, error in zip(loads, errors_n, strict=True)
        ],
        rated_force_n=1000.0,
        serial="INVENTED-1",
        date=dt.date(2025, 9, 29),
        by=EXAMINER,
    )


def _session(season: int) -> Session:
    started, mass_kg = SEASONS[season]
    context = SessionContext(
        session=f"invented-season-{season + 1}",
        started=started,
        person=msgspec.structs.replace(PERSON, mass_kg=mass_kg),
        examiner=EXAMINER,
        sensor=SENSOR,
        cautions_acknowledged=started - dt.timedelta(minutes=4),
        invented=True,
    )
    trials, clock = [], 0.0
    for number, (item, side, effort, aside) in enumerate(_efforts(season)):
        trial = _trial(item, side, effort, seed=100 * season + number, begin_s=clock, started=started)
        clock = float(trial.time[-1]) + 90.0
        trials.append(trial if aside is None else _aside(trial, aside, started + dt.timedelta(seconds=clock)))
    return Session(context=context, trials=tuple(trials))


def _efforts(season: int) -> Iterator[tuple[Item, Side, Effort, str | None]]:
    """Yield every trial of a session: item, side, effort, and why it was set aside."""
    last = season == len(SEASONS) - 1
    for item in ITEMS:
        for side in ("right", "left"):
            best = _best(item, side, season)
            key: tuple[str, Side] = (item.action, side)
            if last and key in NEVER_GOOD:
                for code in NEVER_GOOD[key]:
                    yield item, side, _at(FAULTY[code], best), None
                continue
            for code in WRONG.get(key, ()) if season != 1 else ():
                yield item, side, _at(FAULTY[code], best), None
            if last and key == SET_ASIDE:
                yield item, side, _at(GOOD, 0.8 * best), "the pad slipped"
            for share in SHARES[1:2] if last and key == ONE_ONLY else SHARES:
                yield item, side, _at(GOOD, share * best), None


def _best(item: Item, side: Side, season: int) -> float:
    now = item.right_n if side == "right" else item.left_n
    return now * (*item.earlier, 1.0)[season]


def _at(effort: Effort, plateau_n: float) -> Effort:
    return msgspec.structs.replace(effort, plateau_n=plateau_n, rest_before_s=1.6, rest_after_s=2.0)


def _trial(item: Item, side: Side, effort: Effort, *, seed: int, begin_s: float, started: dt.datetime) -> Trial:
    trace = simulate(effort, rate_hz=RATE_HZ, seed=seed).trace
    context = TrialContext(
        action=item.action,
        side=side,
        method=item.method,
        examiner=EXAMINER,
        examiner_limit_n=EXAMINER_LIMIT_N,
        lever_arm_m=item.lever_arm_m,
        started=started + dt.timedelta(seconds=round(begin_s, 3)),
    )
    return Trial(
        time=begin_s + trace.time,
        counts=np.rint(trace.force * COUNTS_PER_NEWTON + ZERO_COUNTS).astype(np.int32),
        calibration=calibration(),
        zero_counts=ZERO_COUNTS,
        context=context,
    )


def _aside(trial: Trial, reason: str, at: dt.datetime) -> Trial:
    decision = SetAside(aside=True, reason=reason, by=EXAMINER, at=at.replace(microsecond=0))
    return replace(trial, set_aside=(decision,))
