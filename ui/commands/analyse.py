"""`ramphold analyse`: measure and judge stored traces."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from acquire.errors import AcquireError
from acquire.values.outside_text import visible
from acquire.values.units import ForceUnit
from analysis.stored.traces import StoredFile, read_file
from analysis.trial.judged_trial import JudgedTrial, judge_trial
from analysis.trial.number import Kind
from analysis.trial.protocol import Protocol, load_protocol, protocol_json
from ui.papers.tables import fault_lines, trials_table
from ui.progress import counted
from ui.words.calibration_text import calibrations_sentence
from ui.words.judgement_json import recorded_as, trial_json
from ui.words.shown import Shown
from ui.words.words import ENGLISH


def run(options: argparse.Namespace) -> int:
    """Judge every file; a file that cannot be read is named and the others are still shown."""
    protocol = load_protocol(options.protocol)
    found: list[tuple[StoredFile, list[JudgedTrial]]] = []
    failed = False
    for name in counted(options.files, "files"):
        try:
            stored = read_file(Path(name), rate_hz=options.rate, method=options.method, limit_n=options.examiner_limit)
        except AcquireError as error:
            print(f"ramphold: {visible(str(error))}", file=sys.stderr)
            failed = True
            continue
        found.append((stored, judge_file(stored, protocol)))
    if options.json and found:
        print(json.dumps(as_json(found, protocol), indent=1, allow_nan=False))
    else:
        for stored, trials in found:
            show(stored, trials, protocol, ForceUnit(options.unit))
    if options.picture and found:
        _draw([trial for _, trials in found for trial in trials], Path(options.picture))
    return int(failed)


def judge_file(stored: StoredFile, protocol: Protocol) -> list[JudgedTrial]:
    """Return the trials of a file with their judgements."""
    return [judge_trial(trial, protocol, name=stored.path.stem, origin=stored.origin(trial)) for trial in stored.trials]


def as_json(found: list[tuple[StoredFile, list[JudgedTrial]]], protocol: Protocol) -> dict[str, Any]:
    """Return everything as the one object that programs read."""
    return {
        "protocol": protocol_json(protocol),
        "files": [
            {
                "file": str(stored.path),
                "calibration": calibrations_sentence(stored.trials, stored.day, ENGLISH),
                "trials": [_trial(trial, protocol) for trial in trials],
                "contacts": [asdict(contact) for contact in stored.contacts],
            }
            for stored, trials in found
        ],
    }


def _trial(judged: JudgedTrial, protocol: Protocol) -> dict[str, Any]:
    recorded = recorded_as(judged, protocol)
    return trial_json(judged) | ({} if recorded is None else {"recorded": recorded})


def show(stored: StoredFile, trials: list[JudgedTrial], protocol: Protocol, unit: ForceUnit) -> None:
    """Print one file as a table, the sentences of its faults, and what its newtons rest on."""
    print(f"{visible(str(stored.path))}  (protocol {protocol.name}, {protocol.hash})\n")
    print(trials_table(trials, unit) if trials else "no trials")
    for line in fault_lines(trials, unit):
        print(line)
    for number, trial in enumerate(trials, start=1):
        if (recorded := recorded_as(trial, protocol)) is not None:
            by = recorded["protocol"].get("name", "")
            said = ENGLISH("line.recorded", verdict=recorded["verdict"], protocol=by)
            print(f"trial {number}: {said}")
    for contact in stored.contacts:
        peak = Shown(contact.peak_force_n, Kind.FORCE, unit).written(".0f", "en")
        print(f"contact, not judged: up to {peak} from {contact.start_s:.1f} to {contact.stop_s:.1f} s")
    print(f"{calibrations_sentence(stored.trials, stored.day, ENGLISH)}\n")


def _draw(trials: list[JudgedTrial], path: Path) -> None:
    from ui.papers.picture import TRIALS_A_PAGE, draw_pages  # noqa: PLC0415 (drawing is heavy and seldom asked for)

    if len(trials) > TRIALS_A_PAGE:
        print(f"drawing {len(trials)} trials, {TRIALS_A_PAGE} a picture", file=sys.stderr)
    for file in draw_pages(trials, path, title=""):
        print(f"picture: {file}", file=sys.stderr)
