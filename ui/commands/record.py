"""`ramphold record`: a session from a sensor, hands-free."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from acquire.stream.recorder import Recorder, broken_off
from acquire.values.records import Person, SessionContext, Side, TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import find_action, load_actions
from analysis.battery.battery import contexts, load_battery
from analysis.results.sets import SetState, set_state
from analysis.sensor_check import load_check_limits
from analysis.stored.judged import JudgedTrial, judge_trial, protocol_json
from analysis.stored.traces import kept_trials
from analysis.trial.protocol import Protocol, SetRule, load_protocol
from ui.commands.open_sensors import Recorders, Sensors, open_sensors
from ui.model.check.log import CheckLog, log_folder
from ui.model.check.note import SensorName, SensorWatch, known_as
from ui.papers.tables import trial_lines, trials_table
from ui.session.crash import put_empty_aside, recover_store
from ui.session.open_sensor import SIMULATED, OpenSensor
from ui.session.outlet import Outlet
from ui.session.recording import Said, follow
from ui.session.store import SessionStore, check_out, describe, new_context, open_store
from ui.words.cautions import CAUTIONS
from ui.words.local_time import local_now
from ui.words.phrase import Phrase
from ui.words.words import Words


def run(options: argparse.Namespace) -> int:
    """Record until the battery or the count is done, the sensor has nothing more, or Ctrl-C."""
    tell = sys.stderr if options.json else sys.stdout
    protocol, path, unit = load_protocol(options.protocol), Path(options.out), ForceUnit(options.unit)
    sets = options.battery or (options.count is None and (options.action or options.trials))
    progress = Progress(_planned(options), _set_rule(protocol, options.trials) if sets else None, count=options.count)
    check_out(path, resume=True)
    for aside in put_empty_aside(path):
        print(f"a journal that an earlier run had only begun held nothing; it is {aside} now", file=tell)
    recovered = recover_store(path, protocol)
    if recovered is not None:
        print(f"recovered {_trials(recovered[1])} that an earlier run had not saved in {path}", file=tell)
    resume = options.resume or recovered is not None
    check_out(path, resume=resume)
    with open_sensors(options) as sensors:
        sensor = sensors.first
        context = new_context(
            person=_person(options), examiner=options.examiner, sensor=sensor.profile.name, cautions=_cautions()
        )
        store = open_store(path, context, protocol, resume=resume)
        before = len(store.session.trials)
        progress.resume(
            [judge_trial(trial, protocol) for trial in kept_trials(store.session)],
            count_them=recovered is not None and not options.resume,
        )
        print(f"{describe(store.session.context)}: writing {path}; Ctrl-C ends the recording", file=tell)
        print(sensor.calibration.statement(datetime.now(UTC).date()), file=tell)
        for line in sensors.bluetooth_lines():
            print(line, file=tell)
        watch = _watched(sensor)
        judged = [] if progress.done else _record(sensors, store, progress, tell, unit, lsl=options.lsl, watch=watch)
    if options.json:
        print(json.dumps(_as_json(path, store, sensor, judged), indent=1, allow_nan=False))
    elif judged:
        print(f"\n{trials_table(judged, unit, first=before + 1)}\n")
    saved = len(store.session.trials) - before
    if saved:
        print(f"{_trials(saved)} saved in {path}", file=tell)
    else:
        print(f"all that was asked for is in {path} already" if progress.done else "no trial was recorded", file=tell)
    return 0


class Progress:
    """What is tested now, and whether all is done: one item after the other, each until its set is good.

    Without a rule for sets the first item goes on until the count is reached or the recording is stopped.
    """

    def __init__(self, items: tuple[TrialContext, ...], rule: SetRule | None, *, count: int | None) -> None:
        self._items = items
        self._rule = rule
        self._count = count
        self._at = 0
        self._all = 0
        self._tried = 0
        self._plateaus: list[float] = []

    @property
    def done(self) -> bool:
        """Whether there is nothing more to test."""
        if self._count is not None and self._all >= self._count:
            return True
        return self._at >= len(self._items)

    @property
    def item(self) -> TrialContext:
        """What is tested now."""
        return self._items[min(self._at, len(self._items) - 1)]

    def resume(self, trials: Sequence[JudgedTrial], *, count_them: bool) -> None:
        """Go on behind the trials of an earlier run; those of something else are passed over.

        Parameters
        ----------
        trials : sequence of JudgedTrial
            Of the session, in order.
        count_them : bool
            Whether this run is that one again after a crash, so that they are among those it counts; not those that
            were broken off.
        """
        if count_them:
            self._all += sum(broken_off(trial.trial) is None for trial in trials)
        for trial in trials:
            if self._at < len(self._items) and _same_item(trial.trial.context, self.item):
                self._fill(trial)

    def take(self, trial: JudgedTrial) -> SetState | None:
        """Count a trial and return where its set stands; None when there is no set to fill."""
        self._all += 1
        return self._fill(trial)

    def _fill(self, trial: JudgedTrial) -> SetState | None:
        if self._rule is None:
            return None
        self._tried += 1
        plateau = trial.judgement.measures.plateau_force_n
        if trial.judgement.verdict == "accepted" and plateau is not None:
            self._plateaus.append(plateau)
        state = set_state(self._plateaus, self._tried, self._rule)
        if state.complete:
            self._at, self._tried, self._plateaus = self._at + 1, 0, []
        return state


def _same_item(one: TrialContext, other: TrialContext) -> bool:
    return (one.action, one.side, one.method) == (other.action, other.side, other.method)


def _record(
    sensors: Sensors,
    store: SessionStore,
    progress: Progress,
    tell: object,
    unit: ForceUnit,
    *,
    lsl: str | None,
    watch: SensorWatch | None,
) -> list[JudgedTrial]:
    """Record, saying each trial as it ends."""
    recorders = sensors.recorders(store)
    recorder = recorders.first
    outlet = _outlet(sensors.first, recorder, store.session.context, lsl) if lsl else None
    recorders.start(progress.item)
    judged: list[JudgedTrial] = []
    _say(tell, f"now: {_what(progress.item)}")
    for event in follow(recorder, store, lambda: progress.done, second=recorders.second):
        if isinstance(event, Said):
            _say(tell, event.text)
            continue
        judged.append(event)
        _say(tell, trial_lines(len(store.session.trials), event, unit))
        if outlet is not None:
            outlet.tell(len(store.session.trials), event)
        if not recorders.is_second(event):
            _warn(watch.see(event.trial.zero_counts, datetime.now(UTC)) if watch else None)
            _go_on(recorders, progress, event, tell)
    if outlet is not None:
        outlet.close()
    rate, lost = recorder.pipeline.timebase.rate, recorder.pipeline.timebase.lost
    measured = "not known yet" if rate is None else f"{rate.rate_hz:.2f} Hz"
    _say(tell, f"sample rate {measured}, {lost} samples lost, {recorder.pipeline.damaged} damaged frames")
    return judged


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


def _go_on(recorders: Recorders, progress: Progress, judged: JudgedTrial, tell: object) -> None:
    """Count a trial, and say what comes next."""
    before, state = progress.item, progress.take(judged)
    if state is not None:
        _say(tell, f"     {state.reason}")
    if progress.item is not before and not progress.done:
        recorders.plan(progress.item)
        _say(tell, f"now: {_what(progress.item)}")


def _outlet(sensor: OpenSensor, recorder: Recorder, context: SessionContext, name: str) -> Outlet:
    return Outlet(name, sensor=sensor, pipeline=recorder.pipeline, session=context.session)


def _trials(number: int) -> str:
    return f"{number} trial{'' if number == 1 else 's'}"


def _say(tell: object, text: str) -> None:
    print(text, file=tell, flush=True)  # type: ignore[call-overload]


def _what(item: TrialContext) -> str:
    words = [word for word in ((item.action or "").replace("-", " "), item.side or "", item.method) if word]
    return f"{', '.join(words)}; build up over one to two seconds, then hold until told to stop"


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
    )


def _cautions() -> datetime | None:
    """Show the cautions; return when they were acknowledged, None where nobody can be asked."""
    for caution in CAUTIONS:
        print(f"  ! {caution}", file=sys.stderr)
    if not sys.stdin.isatty():
        return None
    print("Press Enter when you have read them and they are kept: ", end="", file=sys.stderr, flush=True)
    return datetime.now(UTC) if sys.stdin.readline() else None


def _as_json(path: Path, store: SessionStore, sensor: OpenSensor, judged: list[JudgedTrial]) -> dict[str, object]:
    return {
        "protocol": protocol_json(store.protocol),
        "files": [
            {
                "file": str(path),
                "calibration": sensor.calibration.statement(datetime.now(UTC).date()),
                "trials": [trial.as_json() for trial in judged],
            }
        ],
    }
