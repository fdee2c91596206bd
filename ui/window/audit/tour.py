"""Pictures of the Audit place with an invented archive: what a user sees from the first start to the curves."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from PyQt6.QtWidgets import QApplication

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from analysis.audit.examiners import REJECTED
from ui.window.audit.place import AuditPlace

LIMIT_S = 120.0
PLAN = ArchivePlan(
    examiners=(
        Examiner(code="EX-1", habits={"fast-ramp": 0.3}),
        Examiner(code="EX-2", limit_n=190.0),
        Examiner(code="EX-3", habits={"short-hold": 0.25}, changes_after_days=90.0),
        *(Examiner(code=f"EX-{number}") for number in range(4, 7)),
    ),
    sessions_each=14,
    rate_hz=100.0,
)
PAIR = ArchivePlan(
    examiners=(Examiner(code="EX-7"), Examiner(code="EX-8")),
    sessions_each=60,
    trials_each=4,
    rate_hz=100.0,
    days=10.0,
    persons=60,
    paired=True,
)
FEW = ArchivePlan(examiners=(Examiner(code="EX-9"),), sessions_each=2, rate_hz=100.0)


def invent_archive(folder: Path) -> Path:
    """Write the archive of the pictures: habits, a study of agreement, one with too little to tell, a broken file."""
    for seed, plan in enumerate((PLAN, PAIR, FEW)):
        write_archive(folder, plan, seed=seed)
    (folder / "EX-9" / "00009.h5").write_bytes(b"not a session")
    return folder


def audit_tour(place: AuditPlace, archive: Path, grab: Callable[[str], None]) -> None:
    """Audit an invented archive, and grab the place on the way."""
    grab("audit-nothing")
    place.open_folder(archive)
    grab("audit-ready")
    place.run()
    grab("audit-running")
    _wait(place)
    grab("audit")
    place.body.said.show_view("shares")
    place.body.charts.show_view(REJECTED)
    place.body.courses[REJECTED].choose(4)
    grab("audit-over-time")
    place.body.charts.show_view("agreement")
    grab("audit-agreement")
    place.body.charts.show_view("archive")
    grab("audit-archive")
    place.body.shares.setCurrentCell(1, 0)
    place.body.shares.opened.emit(1)
    _wait(place)
    grab("audit-curves")
    place.set_blind(True)
    _wait(place)
    place.body.charts.show_view("funnel")
    place.body.said.show_view("words")
    grab("audit-blind")


def _wait(place: AuditPlace) -> None:
    """Let the window live until nothing is under way."""
    until = time.monotonic() + LIMIT_S
    while place.busy and time.monotonic() < until:
        QApplication.processEvents()
        time.sleep(0.01)
