"""Pictures of the place Review with invented sessions: the list, last time, another protocol, a closer look."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
from PyQt6.QtWidgets import QApplication

from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import Note, Person, Session, SessionContext, SetAside, Trial, TrialContext
from analysis.trial.protocol import load_protocol
from ui.session.store import SessionStore
from ui.window.review.place import ReviewPlace

LIMIT_S = 60.0
PERSON, EXAMINER = "CREW-07", "EX-2"
PLAN = (
    ("good", "left", 1.0),
    ("fast-ramp", "left", 1.0),
    ("good", "left", 0.97),
    ("good", "right", 0.86),
    ("shake", "right", 0.85),
    ("good", "right", 0.84),
)
NEARER = 4


def invent_sessions(folder: Path) -> Path:
    """Write an invented person's sessions, and some of others; return the latest of the person."""
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(3):
        _session(
            folder / f"other-{number}.h5", f"CREW-1{number}", dt.datetime(2026, 3, 9 + number, 10, tzinfo=dt.UTC), 1.1
        )
    _session(folder / "crew-07-march.h5", PERSON, dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC), 0.9)
    now = dt.datetime(2026, 4, 20, 9, 30, tzinfo=dt.UTC)
    store = _session(folder / "crew-07-april.h5", PERSON, now, 1.0)
    store.decide(5, SetAside(aside=True, reason="coughed", by=EXAMINER, at=now))
    store.note(3, Note(text="knee a little swollen", by=EXAMINER, at=now))
    store.take_contact(_trial("good", "right", 0.06, 9))
    store.save()
    return store.path


def review_tour(place: ReviewPlace, latest: Path, grab: Callable[[str], None]) -> None:
    """Go through the list, a session, another protocol and a closer look, and grab the place on the way."""
    place.ask_sessions(True)
    _wait(place)
    grab("review-list")
    place.open_path(latest)
    _wait(place)
    grab("review")
    place.judge_by("brief")
    place.press()
    _wait(place)
    grab("review-other-protocol")
    place.open_path(latest)
    for _ in range(4):
        place.press()
    for _ in range(NEARER):
        place.curves.zoom(nearer=True)
        place.curves.zoom_force(nearer=True)
    _wait(place)
    grab("review-zoomed")
    place.press()
    _wait(place)
    grab("review-set-aside")


def _session(path: Path, person: str, started: dt.datetime, share: float) -> SessionStore:
    context = SessionContext(
        session=path.stem, started=started, person=Person(code=person), examiner=EXAMINER, invented=True
    )
    store = SessionStore(path, Session(context=context), load_protocol())
    for seed, (code, side, part) in enumerate(PLAN):
        store.take(_trial(code, side, share * part, seed))
    store.save()
    return store


def _trial(code: str, side: str, share: float, seed: int) -> Trial:
    profile = load_profile("simulated")
    effort = FAULTY.get(code, GOOD)
    trace = simulate(
        msgspec.structs.replace(effort, plateau_n=share * effort.plateau_n), rate_hz=1000.0, seed=seed
    ).trace
    there = ~np.isnan(trace.force)
    return Trial(
        time=trace.time[there],
        counts=np.rint(trace.force[there] * profile.counts_per_newton).astype(np.int32),
        calibration=profile.nominal_calibration(),
        zero_counts=0.0,
        context=TrialContext(action="knee-extension", side="left" if side == "left" else "right", method="belt"),
    )


def _wait(place: ReviewPlace) -> None:
    """Let the window live until nothing is being read."""
    until = time.monotonic() + LIMIT_S
    QApplication.processEvents()
    while place.busy and time.monotonic() < until:
        QApplication.processEvents()
        time.sleep(0.01)
    QApplication.processEvents()
