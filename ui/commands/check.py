"""`ramphold check`: whether the sensor tells the truth today, and what its counts mean."""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec

from acquire.errors import CalibrationError
from acquire.sensor.calibration_file import load_calibration, save_calibration
from acquire.sensor.profile import load_profile
from acquire.values.calibration import Calibration, residuals
from analysis.sensor_check import LoadReading, SensorCheck, load_check_limits
from analysis.statistics.uncertainty import Component, Distribution
from ui.commands.keys import EnterKey
from ui.model.check.log import CheckLog, log_folder
from ui.model.check.text import SIGNS, asked, facts, finding_name, finding_phrase, rows, seen
from ui.papers.tables import text_table
from ui.progress import say
from ui.session.check_routine import CheckRoutine, State
from ui.session.check_run import CheckRun
from ui.session.check_setup import CheckSetup, refuse_overload
from ui.session.open_sensor import open_for_check
from ui.words.bluetooth_text import bluetooth_text
from ui.words.calibration_text import calibration_sentence
from ui.words.words import ENGLISH, Words

SAY_S = 5.0
"""What keeps a weight from being taken is said after this long,"""
SAY_AGAIN_S = 30.0
"""and again after this, while it is the same."""
WAIT_S = 0.05


def run(options: argparse.Namespace) -> int:
    """Look at the sensor, weigh if asked, print what was found and keep it; or show the checks there were."""
    log = CheckLog(log_folder(os.environ))
    if options.history:
        from ui.commands.check_history import show_history  # noqa: PLC0415 (drawing is heavy)

        return show_history(options, log)
    if options.save and not Path(options.save).parent.is_dir():
        raise CalibrationError(
            f"{Path(options.save).parent}: there is no such folder; create it or choose another --save"
        )
    check = _carried_through(options, log)
    path = log.keep(check)
    made = check.made_calibration()
    if options.json:
        print(json.dumps(_as_json(check, made, path), indent=1, allow_nan=False))
    else:
        _show(check, made, Words())
    print(f"check: {path}", file=sys.stderr)
    if made is not None and options.save:
        save_calibration(options.save, made)
        print(f"calibration: {options.save}", file=sys.stderr)
    return 0


def _carried_through(options: argparse.Namespace, log: CheckLog) -> SensorCheck:
    """Do what is asked for, and return what it came to; nothing is kept if it cannot be finished."""
    limits = load_check_limits(options.limits)
    if options.seconds is not None:
        procedure = msgspec.structs.replace(limits.procedure, look_s=options.seconds)
        limits = msgspec.structs.replace(limits, procedure=procedure)
    setup = _setup(options)
    profile = load_profile(options.sensor)
    refuse_overload(setup, profile.stated_force_n)
    talk = _Talk(sys.stderr)
    talk.begin(setup)
    sensor = open_for_check(
        options.sensor,
        port=options.port,
        calibration=options.calibration,
        speed=options.speed,
        zero=options.zero,
        tell=say,
    )
    if status := bluetooth_text(sensor.link.bluetooth, Words()):
        say(f"{sensor.link.port}: {status}")
    with CheckRun(sensor, setup, limits) as run_:
        enter = EnterKey()
        while not run_.routine.done:
            run_.tick(WAIT_S)
            if enter.pressed():
                run_.routine.press()
            talk.tell(run_.routine)
        return run_.finish(now=datetime.now(UTC), before=log.last(profile.name, setup.serial))


def _setup(options: argparse.Namespace) -> CheckSetup:
    serial = options.serial
    if not serial and options.calibration:
        serial = load_calibration(options.calibration).serial
    return CheckSetup(
        masses_kg=options.weights or (),
        full=options.full,
        gravity_m_per_s2=options.gravity,
        latitude_deg=options.latitude,
        height_m=options.height,
        mass_tolerance_pct=options.mass_tolerance,
        serial=serial,
        by=options.by,
    )


class _Talk:
    """Says what to do, what was taken, and from time to time what is in the way."""

    def __init__(self, tell: Any) -> None:  # noqa: ANN401 (a text stream)
        self._tell, self._words = tell, Words()
        self._asked = -1
        self._taken = 0
        self._said: tuple[State | None, float] = (None, 0.0)

    def begin(self, setup: CheckSetup) -> None:
        """Say what is to come."""
        if setup.rising:
            self._say(f"! {self._words('check.caution')}")

    def tell(self, routine: CheckRoutine) -> None:
        """Say what is new."""
        for reading in routine.readings[self._taken :]:
            self._say(f"        {_reading(reading, routine)}")
        self._taken = len(routine.readings)
        if routine.done:
            return
        if routine.number != self._asked:
            self._asked = routine.number
            self._said = (None, time.monotonic())
            step = routine.step
            extra = f" ({step.seconds:g} s)" if step.purpose in {"look", "rest", "hold"} else ""
            ask = asked(step, routine.hung_kg).said(self._words)
            self._say(f"{routine.number + 1:3d}/{len(routine.steps)}  {ask}{extra}")
        self._explain(routine)

    def _explain(self, routine: CheckRoutine) -> None:
        """Say what is in the way: a wrong weight at once, others when they last."""
        state, now = routine.state, time.monotonic()
        if state in {State.LOOKING, State.HOLDING} and not routine.load.overloaded:
            return
        before, since = self._said
        at_once = state is State.WRONG and before is not State.WRONG
        if at_once or now - since > (SAY_AGAIN_S if state is before else SAY_S):
            self._said = (state, now)
            self._say(f"        {seen(routine, self._words('check.enter')).said(self._words)}")

    def _say(self, text: str) -> None:
        print(text, file=self._tell, flush=True)


def _reading(reading: LoadReading, routine: CheckRoutine) -> str:
    return f"{reading.mass_kg:g} kg: {routine.shown_n(reading):+.2f} N for {reading.load_n:.2f} N"


def _show(check: SensorCheck, made: Calibration | None, words: Words) -> None:
    table = [
        (words(f"check.figure.{row.key}"), row.newtons, row.percent, row.uncertainty) for row in rows(check, words)
    ]
    columns = tuple(words(f"check.{name}") for name in ("measured", "newtons", "percent", "uncertainty"))
    who = f"{check.sensor}{f' {check.serial}' if check.serial else ''}"
    print(f"{who}, unloaded for {check.unloaded.seconds:.1f} s\n\n{text_table(table, columns)}\n")
    for fact in facts(check):
        print(fact.said(words))
    if made is not None:
        _show_calibration(check, made)
    elif check.calibration.date is None:
        print(calibration_sentence(check.calibration, check.made.date(), ENGLISH))
    print()
    for finding in check.findings:
        print(f"{SIGNS[finding.status]} {finding.status:<4}  {finding_phrase(finding, check).said(words)}")
    print(f"\n{words(f'check.verdict.{check.verdict}')}")
    if check.invented:
        print(words("check.invented"))


def _show_calibration(check: SensorCheck, made: Calibration) -> None:
    left = residuals(made)
    table = [
        (f"{point.load_n:.3f}", f"{point.counts:.1f}", f"{newtons:+.3f}", f"{share:+.3f}")
        for point, newtons, share in zip(made.points, left.force_n, left.pct, strict=True)
    ]
    print(f"\n{text_table(table, ('load N', 'counts', 'residual N', '% of rated force'))}")
    if check.loaded is not None:
        budget = check.loaded.budget
        lines = [_budget_row(each) for each in budget.components]
        print(f"\nwhat a force of {budget.at_n:.1f} N is known by, standard uncertainties; gravity {_gravity(check)}")
        print(text_table(lines, ("from", "type", "distribution", "N", "degrees of freedom")))
        print(f"expanded, 95 %, k = {budget.coverage:.2f}: {budget.expanded_n:.3f} N, {budget.expanded_pct:.3f} %")
    print(f"\n{1.0 / made.newtons_per_count:.3f} counts a newton, zero at {made.zero_counts:.1f} counts")
    print(calibration_sentence(made, check.made.date(), ENGLISH))


def _budget_row(component: Component) -> tuple[str, ...]:
    kind = "A" if component.distribution is Distribution.STUDENT else "B"
    freedom = "many" if component.dof is None else f"{component.dof:g}"
    return component.source, kind, component.distribution.value, f"{component.contribution or 0.0:.4f}", freedom


def _gravity(check: SensorCheck) -> str:
    how = {
        "standard": "standard, because --latitude was not given",
        "latitude": "by latitude",
        "place": "by latitude and height",
        "typed": "as given",
    }
    return f"{check.gravity.m_per_s2:.5f} m/s2, {how[check.gravity.source]}"


def _as_json(check: SensorCheck, made: Calibration | None, path: Path) -> dict[str, object]:
    words = Words()
    content: dict[str, object] = {
        "sensor": check.sensor,
        "serial": check.serial,
        "verdict": check.verdict.value,
        "limits": msgspec.to_builtins(check.limits),
        "check": msgspec.to_builtins(check.unloaded),
        "calibration": calibration_sentence(made or check.calibration, check.made.date(), ENGLISH),
        "findings": [
            {
                **msgspec.to_builtins(finding),
                "name": finding_name(finding, words),
                "text": finding_phrase(finding, check).said(words),
            }
            for finding in check.findings
        ],
        "file": str(path),
    }
    if made is not None and check.loaded is not None:
        content["loads"] = {**msgspec.to_builtins(check.loaded), "readings": msgspec.to_builtins(check.readings)}
        content["made"] = _made_json(check, made)
    return content


def _made_json(check: SensorCheck, made: Calibration) -> dict[str, object]:
    left = residuals(made)
    return {
        "newtons_per_count": made.newtons_per_count,
        "zero_counts": made.zero_counts,
        "gravity_m_per_s2": check.gravity.m_per_s2,
        "uncertainty": msgspec.to_builtins(made.uncertainty),
        "points": [
            {"load_n": p.load_n, "counts": p.counts, "residual_n": float(n), "residual_pct_of_rated": float(s)}
            for p, n, s in zip(made.points, left.force_n, left.pct, strict=True)
        ],
    }
