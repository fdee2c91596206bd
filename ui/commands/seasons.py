"""`ramphold demo --seasons`: three invented sessions months apart, and the report of the last one."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from acquire.errors import ArchiveError
from acquire.simulation.seasons import seasonal_sessions
from acquire.storage.session_file import write_session
from acquire.values.units import ForceUnit
from analysis.trial.protocol import Protocol
from ui.papers.report.occasion import occasion_of
from ui.papers.report.write import Written, make_report, write_report
from ui.progress import counted
from ui.words.words import Words


def run_seasons(folder: Path, protocol: Protocol, *, unit: ForceUnit, language: str, as_json: bool) -> int:
    """Write the sessions and the report, and say where they are."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ArchiveError(f"{folder}: cannot be written to: {error.strerror}; choose another --out") from error
    print("three invented sessions of one rower; nothing in them was measured on anybody", file=sys.stderr)
    occasions, paths = [], []
    for number, session in enumerate(counted(seasonal_sessions(), "sessions"), start=1):
        path = folder / f"season-{number}.h5"
        write_session(path, session)
        paths.append(path)
        occasions.append(occasion_of(session, protocol, name=path.name))
    *earlier, latest = occasions
    report = make_report(latest, protocol, words=Words(language), unit=unit, earlier=earlier)
    places = Written(pdf=folder / "report.pdf", page=folder / "report.html")
    write_report(report, places)
    if as_json:
        told = {"sessions": [str(path) for path in paths], "pdf": str(places.pdf), "html": str(places.page)}
        print(json.dumps(told, indent=1))
        return 0
    for path in paths:
        print(f"session: {path}")
    print(f"report: {places.pdf}\nreport: {places.page}")
    return 0
