"""`ramphold record`: a session from a sensor, hands-free, or a battery by keys of the terminal."""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import sys
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

import msgspec

from acquire.files.file_lock import RecordingLock
from acquire.sensor.profile import load_profile
from acquire.stream.recorder import Recorder
from acquire.values.records import Person, SessionContext, Side, TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import find_action, load_actions
from analysis.battery.battery import contexts, load_battery
from analysis.sensor_check import load_check_limits
from analysis.trial.contacts import contact_of
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import Protocol, SetRule, load_protocol, protocol_json
from ui.commands.keyboard import Keyboard
from ui.commands.keys import TerminalKeys
from ui.commands.open_sensors import Sensors, open_sensors
from ui.commands.session_lines import SessionLines
from ui.model.check.log import CheckLog, log_folder
from ui.model.check.note import SensorName, SensorWatch, known_as
from ui.papers.tables import trials_table
from ui.progress import clear_parts
from ui.session.crash import goes_on, journal_path, put_empty_aside, recover_store, tidy_up
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.events import Verdict
from ui.session.live import LiveSession
from ui.session.open_sensor import SIMULATED, OpenSensor
from ui.session.outlet import Outlet
from ui.session.recording import events_of
from ui.session.store import SessionStore, check_out, describe, new_context, open_store
from ui.words.calibration_text import calibration_sentence
from ui.words.cautions import CAUTIONS
from ui.words.judgement_json import trial_json
from ui.words.local_time import local_now
from ui.words.phrase import Phrase
from ui.words.words import ENGLISH, Words


def run(options: argparse.Namespace) -> int:
    """Record until the battery or the count is done, the sensor has nothing more, or Ctrl-C."""
    tell = sys.stderr if options.json else sys.stdout
    protocol, path, unit = load_protocol(options.protocol), Path(options.out), ForceUnit(options.unit)
    engine = _engine(options, protocol)
    check_out(path, resume=True)
    with RecordingLock(journal_path(path)):  # nobody writes it now
        clear_parts(path, older_than_s=0.0)
    for aside in put_empty_aside(path):
        print(f"a journal that an earlier run had only begun held nothing; it is {aside} now", file=tell)
    recovered = recover_store(path, protocol)
    if recovered is not None:
        print(f"recovered {_trials(recovered[1])} that an earlier run had not saved in {recovered[0].path}", file=tell)
    resume = options.resume or _goes_on(path, options, tell)
    check_out(path, resume=resume)
    with open_sensors(options) as sensors:
        sensor = sensors.first
        context = new_context(
            person=_person(options),
            examiner=options.examiner,
            sensor=sensor.profile.name,
            cautions=_cautions(),
            invented=sensor.profile.name == SIMULATED,
        )
        store = open_store(path, context, protocol, resume=resume, calibration=sensor.calibration)
        before = len(store.session.trials)
        engine.resume(
            [sensors.without_verdict_of_second(trial) for trial in store.session.trials],
            skipped=store.session.context.skipped,
        )
        complete = engine.cue is Cue.DONE
        print(f"{describe(store.session.context)}: writing {path}; Ctrl-C ends the recording", file=tell)
        print(calibration_sentence(sensor.calibration, datetime.now(UTC).date(), ENGLISH), file=tell)
        for line in sensors.bluetooth_lines():
            print(line, file=tell)
        watch = _watched(sensor)
        recording = _Recording(options=options, store=store, tell=tell, unit=unit)
        touched = len(store.session.contacts)
        if complete:
            tidy_up(path)
        judged = [] if complete else _record(recording, sensors, engine, watch)
    if options.json:
        print(json.dumps(_as_json(path, store, sensor, judged, touched), indent=1, allow_nan=False))
    elif judged:
        print(f"\n{trials_table(judged, unit, first=before + 1)}\n")
    saved = len(store.session.trials) - before
    if saved:
        print(f"{_trials(saved)} saved in {store.path}", file=tell)
    else:
        print(f"all that was asked for is in {path} already" if complete else "no trial was recorded", file=tell)
    return 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Recording:
    """The settings of one recording, and where it is saved."""

    options: argparse.Namespace
    store: SessionStore
    tell: TextIO
    unit: ForceUnit


def _engine(options: argparse.Namespace, protocol: Protocol) -> Engine:
    """Return what carries the recording through: by keys where a battery meets a terminal, hands-free otherwise."""
    rule = _set_rule(protocol, options.trials)
    if _has_keys(options):
        return Engine(_planned(options), msgspec.structs.replace(protocol, set=rule))
    sets = options.battery or (options.count is None and (options.action or options.trials))
    return Engine(_planned(options), protocol, hands_free=True, rule=rule if sets else None, count=options.count)


def _goes_on(path: Path, options: argparse.Namespace, tell: TextIO) -> bool:
    """Tell whether to go on with a session file that is there: the same run does, for any other a person is asked."""
    if not path.exists():
        return False
    sensor = load_profile(options.sensor).name
    if goes_on(path, person=options.person, sensor=sensor, today=local_now().date()):
        print(f"going on with {path}", file=tell)
        return True
    if not sys.stdin.isatty():
        return False
    print(f"{path} exists already. Go on with it (y/n)? ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower().startswith("y")


def _has_keys(options: argparse.Namespace) -> bool:
    return bool(options.battery) and options.count is None and sys.stdin.isatty()


def _record(recording: _Recording, sensors: Sensors, engine: Engine, watch: SensorWatch | None) -> list[JudgedTrial]:
    """Record, saying each trial as it ends."""
    store, options, tell = recording.store, recording.options, recording.tell
    recorders = sensors.recorders(store)
    outlet = _outlet(sensors.first, recorders.first, store.session.context, options.lsl) if options.lsl else None
    session = LiveSession(
        recorders.first, store, engine, second=recorders.second, plan=recorders.plan, clock=sensors.first.clock
    )
    lines = SessionLines(session, tell, recording.unit)
    with contextlib.ExitStack() as opened:
        look = _no_keys
        if engine.hands_free:
            lines.say_item()
        else:
            keyboard = _keyboard(opened.enter_context(TerminalKeys()), session, lines, recording.unit)
            look = keyboard.look
        for event in events_of(session, look):
            if isinstance(event, Verdict) and event.final:
                _tell_outside(event, session, outlet, watch)
            lines.show(event)
    if outlet is not None:
        outlet.close()
    _say_stream(recorders.first, tell)
    return session.trials


def _no_keys() -> bool:
    return True


def _keyboard(keys: TerminalKeys, session: LiveSession, lines: SessionLines, unit: ForceUnit) -> Keyboard:
    lines.say(Words()("keys.line"))
    return Keyboard(
        keys,
        session,
        actions=load_actions(),
        unit=unit,
        say=lines.say,
        show=lines.show,
        draw=lines.draw if lines.is_terminal else None,
    )


def _tell_outside(verdict: Verdict, session: LiveSession, outlet: Outlet | None, watch: SensorWatch | None) -> None:
    """Tell other programs of a trial, and whether the zero of the sensor has moved."""
    if outlet is not None:
        trials = session.store.session.trials
        outlet.tell(next(n for n, trial in enumerate(trials, 1) if trial is verdict.judged.trial), verdict.judged)
    if watch is not None and not verdict.second:
        _warn(watch.see(verdict.judged.trial.zero_counts, datetime.now(UTC)))


def _say_stream(recorder: Recorder, tell: TextIO) -> None:
    rate, lost = recorder.pipeline.timebase.rate, recorder.pipeline.timebase.lost
    measured = "not known yet" if rate is None else f"{rate.rate_hz:.2f} Hz"
    print(
        f"sample rate {measured}, {lost} samples lost, {recorder.pipeline.damaged} damaged data packets",
        file=tell,
        flush=True,
    )


def _watched(sensor: OpenSensor) -> SensorWatch | None:
    """Say what is to be known of a sensor; one that is simulated is not watched."""
    if sensor.profile.name == SIMULATED:
        return None
    log = CheckLog(log_folder(os.environ))
    name = known_as(log, SensorName(profile=sensor.profile.name, serial=sensor.calibration.serial))
    watch = SensorWatch(log, name, load_check_limits())
    _warn(*watch.before(local_now()))
    return watch


def _warn(*phrases: Phrase | None) -> None:
    """Say on standard error, in one line, what is to be known of the sensor."""
    said = " ".join(phrase.said(Words()) for phrase in phrases if phrase is not None)
    if said:
        print(f"! {said}", file=sys.stderr, flush=True)


def _outlet(sensor: OpenSensor, recorder: Recorder, context: SessionContext, name: str) -> Outlet:
    return Outlet(name, sensor=sensor, pipeline=recorder.pipeline, session=context.session)


def _trials(number: int) -> str:
    return f"{number} trial{'' if number == 1 else 's'}"


def _planned(options: argparse.Namespace) -> tuple[TrialContext, ...]:
    """Return what is to be tested, in order."""
    actions = load_actions()
    if options.battery:
        sides: tuple[Side, ...] = ("left", "right") if options.sides == "both" else (options.sides,)
        items = load_battery(options.battery, actions, sides=sides)
        return contexts(items, actions, examiner=options.examiner, examiner_limit_n=options.examiner_limit)
    advised = find_action(options.action, actions).method if options.action else "hand"
    item = TrialContext(
        action=options.action,
        side=options.side,
        method=options.method or advised,
        examiner=options.examiner,
        examiner_limit_n=options.examiner_limit,
        lever_arm_m=options.lever_arm,
        resting_force_n=options.resting_force,
    )
    return (item,)


def _set_rule(protocol: Protocol, trials: int | None) -> SetRule:
    if trials is None:
        return protocol.set
    most = max(protocol.set.most_trials, trials)
    return msgspec.structs.replace(protocol.set, trials=trials, most_trials=most)


def _person(options: argparse.Namespace) -> Person:
    return Person(
        code=options.person,
        sex=options.sex,
        age_years=options.age,
        mass_kg=options.mass,
        height_m=options.height,
        dominant_side=options.dominant,
        affected_side=options.affected,
    )


def _cautions() -> datetime | None:
    """Show the cautions; return when they were acknowledged, None where nobody can be asked."""
    for caution in CAUTIONS:
        print(f"  ! {caution}", file=sys.stderr)
    if not sys.stdin.isatty():
        return None
    print("Press Enter when you have read them and will follow them: ", end="", file=sys.stderr, flush=True)
    return datetime.now(UTC) if sys.stdin.readline() else None


def _as_json(
    path: Path, store: SessionStore, sensor: OpenSensor, judged: list[JudgedTrial], contacts_before: int
) -> dict[str, object]:
    contacts = store.session.contacts[contacts_before:]
    return {
        "protocol": protocol_json(store.protocol),
        "files": [
            {
                "file": str(path),
                "calibration": calibration_sentence(sensor.calibration, datetime.now(UTC).date(), ENGLISH),
                "trials": [trial_json(each) for each in judged],
                "contacts": [asdict(contact_of(contact, store.protocol)) for contact in contacts],
            }
        ],
    }
