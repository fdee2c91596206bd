"""`ramphold demo`: a whole invented session, recorded from a simulated sensor through a real serial line.

With ``--board`` the sensor is the reference firmware on an emulated board, with a converter that takes samples of its
own of what is played. With ``--disturb`` things go wrong on the way from the line to the recorder, and what was done is
told at the end.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from acquire.decoders import frame_end
from acquire.errors import ArchiveError
from acquire.files.atomic import replace_file
from acquire.files.file_lock import RecordingLock
from acquire.links.board import BoardLink
from acquire.links.device_program import DeviceProgramLink
from acquire.links.disturbed import DisturbedLink
from acquire.links.simulated import SimulatedLink
from acquire.sensor.profile import Profile, load_profile
from acquire.simulation.board import build_board
from acquire.simulation.disturbance import Disturbance, load_disturbance
from acquire.simulation.efforts import recording
from acquire.simulation.scenario import EXAMINER, PERSON, Planned, demo_scenario
from acquire.storage.journal import JournalReader
from acquire.storage.session_file import read_index
from acquire.stream.recorder import Recorder
from acquire.stream.recovery import read_header
from acquire.values.records import SessionContext
from acquire.values.units import ForceUnit
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import load_protocol, protocol_json
from ui.commands.trouble_lines import TroubleLines
from ui.papers.tables import fault_lines, trial_lines, trials_table
from ui.session.crash import journal_path, put_empty_aside
from ui.session.events import Verdict
from ui.session.open_sensor import OpenSensor
from ui.session.recording import every_effort, recorder_of
from ui.session.store import SessionStore, describe, new_context, open_store
from ui.words.calibration_text import calibration_sentence
from ui.words.cautions import CAUTIONS
from ui.words.judgement_json import judgement_json
from ui.words.words import ENGLISH

BOARD, SIMULATED = "board-packets", "simulated"
PLAYED_HZ = 1000.0
"""Forces a second that are invented; the simulated sensor sends just these, the board samples of them."""

SESSION, JOURNAL, TABLE, PICTURE = "session.h5", "session.h5.journal", "trials.txt", "trials.png"


def run(options: argparse.Namespace) -> int:
    """Record the demo session, then leave a table and a picture of it; or open it in the window."""
    if options.window:
        from ui.commands.window import run_demo  # noqa: PLC0415 (the command line works where Qt does not)

        return run_demo(Path(options.out))
    protocol, folder, unit = load_protocol(options.protocol), Path(options.out), ForceUnit(options.unit)
    if options.seasons:
        from ui.commands.seasons import run_seasons  # noqa: PLC0415 (no part of the usual demo)

        return run_seasons(folder, protocol, unit=unit, language=options.language, as_json=options.json)
    disturbance = load_disturbance(options.disturb) if options.disturb else Disturbance()
    path = _fresh(folder)
    plan = demo_scenario()
    profile = load_profile(BOARD if options.board else SIMULATED)
    context = new_context(
        person=PERSON, examiner=EXAMINER, sensor=profile.name, cautions=datetime.now(UTC), invented=True
    )
    if options.board:
        build_board()  # if it cannot be had, that is said before anything is begun
    store = open_store(path, context, protocol, resume=False)
    tell = sys.stderr if options.json else sys.stdout
    print(f"{describe(context)}; nothing below was measured on anybody\n", file=tell)
    for caution in CAUTIONS:
        print(f"  ! {caution}", file=tell)
    print(f"\n{len(plan)} trials at {options.speed:g} x real time{_over(disturbance)}\n", file=tell)
    judged = []
    played = _recorded(store, profile, plan, options, disturbance)
    for number, trial in enumerate(played, start=1):
        judged.append(trial)
        print(trial_lines(number, trial, unit), file=tell, flush=True)
    if not judged:
        print("ramphold: stopped before the first trial had ended, so nothing was written", file=sys.stderr)
        return 1
    _hand_over(folder, store, judged, unit, options)
    return 0


def _fresh(folder: Path) -> Path:
    """Return where the session goes; the results of an earlier demo there make room, and nothing else does.

    Raises
    ------
    ArchiveError
        If the folder holds a file that is not known to be of a demo, or cannot be written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        put_empty_aside(folder / SESSION)
        there = [folder / name for name in (SESSION, JOURNAL, TABLE, PICTURE) if (folder / name).exists()]
        if there and not _of_a_demo(folder):
            raise ArchiveError(f"{there[0]}: is not of an earlier demo; choose another --out")
        for path in there:
            path.unlink()
    except OSError as error:
        raise ArchiveError(f"{folder}: cannot be written to: {error.strerror}; choose another --out") from error
    return folder / SESSION


def _of_a_demo(folder: Path) -> bool:
    """Tell whether session and journal, as far as they are there, say that they are invented."""
    session, journal = folder / SESSION, folder / JOURNAL
    found: list[SessionContext] = []
    try:
        if session.exists():
            found.append(read_index(session).context)
        if journal.exists():
            with RecordingLock(journal), JournalReader(journal) as reader:
                found.append(read_header(reader.header, journal).session)
    except ArchiveError:
        return False
    return bool(found) and all(context.invented for context in found)


def _over(disturbance: Disturbance) -> str:
    return "" if disturbance.is_none else f", over a bad link: {disturbance.title or disturbance.name or 'of your own'}"


def _link(profile: Profile, plan: tuple[Planned, ...], options: argparse.Namespace) -> DeviceProgramLink:
    """Return the sensor, on which the plan is played."""
    force_n = recording([planned.effort for planned in plan], rate_hz=PLAYED_HZ, seed=options.seed).force
    counts = np.rint(force_n * profile.counts_per_newton + profile.zero_counts).astype(np.int32)
    if options.board:
        return BoardLink(profile, counts, rate_hz=PLAYED_HZ, speed=options.speed)
    return SimulatedLink(profile, counts, speed=options.speed)


def _recorded(
    store: SessionStore,
    profile: Profile,
    plan: tuple[Planned, ...],
    options: argparse.Namespace,
    disturbance: Disturbance,
) -> Iterator[JudgedTrial]:
    """Play the plan on the sensor and yield each trial as it ends."""
    with _link(profile, plan, options) as good:
        link = DisturbedLink(good, disturbance, frame_end=frame_end(profile))
        sensor = OpenSensor(
            profile=profile, calibration=profile.nominal_calibration(), link=link, reopen=None, clock=good.clock
        )
        recorder = recorder_of(sensor, store.session.context, journal_path(store.path))
        troubles = TroubleLines()
        for event in every_effort(recorder, store, *(planned.context for planned in plan)):
            if isinstance(event, Verdict):
                yield event.judged
            elif line := troubles.line(event):
                print(line, file=sys.stderr)
    if not disturbance.is_none:
        print(_survived(link, recorder), file=sys.stderr)


def _survived(link: DisturbedLink, recorder: Recorder) -> str:
    """Say what was done to the frames on their way, and what the program saw of it."""
    done = ", ".join(f"{kind} {link.done[kind]}" for kind in sorted(link.done)) or "nothing"
    timebase, damaged = recorder.pipeline.timebase, recorder.pipeline.damaged
    return (
        f"the bad link did this to frames: {done}; the program saw {timebase.lost} samples lost in "
        f"{timebase.gap_count} gaps, {damaged} damaged data packets, {timebase.duplicates} that came twice or late"
    )


def _hand_over(
    folder: Path, store: SessionStore, judged: list[JudgedTrial], unit: ForceUnit, options: argparse.Namespace
) -> None:
    """Write table and picture, and say where everything is."""
    from ui.papers.picture import draw_trials  # noqa: PLC0415 (drawing is heavy, and the trials come first)

    statement = calibration_sentence(judged[0].trial.calibration, store.session.context.started.date(), ENGLISH)
    table = "\n".join([trials_table(judged, unit), *fault_lines(judged, unit), statement, ""])
    replace_file(folder / TABLE, lambda aside: aside.write_text(table, encoding="utf-8"))
    draw_trials(judged, folder / PICTURE, title=f"{describe(store.session.context)}")
    if options.json:
        print(json.dumps(_as_json(folder, store, judged, statement), indent=1, allow_nan=False))
        return
    print(f"\n{trials_table(judged, unit)}\n{statement}\n")
    for what, name in (("session", SESSION), ("table", TABLE), ("picture", PICTURE)):
        print(f"{what}: {folder / name}")


def _as_json(folder: Path, store: SessionStore, judged: list[JudgedTrial], statement: str) -> dict[str, object]:
    return {
        "protocol": protocol_json(store.protocol),
        "files": [
            {
                "file": str(folder / SESSION),
                "calibration": statement,
                "trials": [judgement_json(trial) for trial in judged],
            }
        ],
        "table": str(folder / TABLE),
        "picture": str(folder / PICTURE),
    }
