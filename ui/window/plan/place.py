"""Plan: who is tested, what, and with what; the cautions; and how long it will take."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import msgspec
from PyQt6.QtCore import QTimer, pyqtSignal
from PyQt6.QtGui import QHideEvent, QResizeEvent, QShowEvent
from PyQt6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from acquire.links.ports import serial_ports
from acquire.values.units import ForceUnit
from analysis.battery.actions import load_actions
from analysis.errors import ActionsError
from ui.model.plan.checks import problems, warnings_of
from ui.model.plan.edits import with_limit
from ui.model.plan.people import KnownPerson, with_known_person
from ui.model.plan.plan import PlanDraft, finished, make_folder, suggested_out
from ui.model.plan.problems import Problem, ProblemCode
from ui.model.plan.remembered import Remembered
from ui.model.plan.text import problem_words
from ui.model.theme import Theme
from ui.window.plan.begin import BeginCard
from ui.window.plan.bluetooth import Listen, bluetooth_in_range
from ui.window.plan.cards import WhatCard, WhoCard
from ui.window.plan.check import PlanCheck
from ui.window.plan.describe import DescribeDialog
from ui.window.plan.finding import PlanFinding
from ui.window.plan.limit import LimitMeasurement
from ui.window.plan.people import PeopleDialog
from ui.window.plan.port import Ports
from ui.window.plan.sensor import SensorCard
from ui.window.stage.sound import SoundState
from ui.window.widgets.fields import Fields, Pick, pick_file, pick_new_file
from ui.window.widgets.panels import Notice, font_size, grow, say
from ui.window.widgets.scrolled import Scrolled
from ui.words.local_time import local_now
from ui.words.words import Words

PROFILES = "sensors"
"""The folder of the profiles that were described here, beside what the program remembers."""
FIND_AFTER_MS = 300
"""The window is drawn before it looks for sensors."""

LAST_SHARE = 0.4
"""The cautions and the way to begin take no more of the height; on a small screen the cautions are scrolled."""


class PlanPlace(QWidget):
    """The place where a session is planned.

    `begin` is emitted with a `PlanDraft` that has no problems; `switched` with the draft when another unit or
    language was chosen, in which the whole window may want to be shown.

    Parameters
    ----------
    words, theme, unit
        Language, colours and unit of force.
    remembered : Remembered
        What the program remembers between starts.
    now, ports, listen, pick, pick_new : callable
        The time, the ports there are, the Bluetooth sensors in range, and how the user picks a file.
    finds : bool
        Whether sensors are looked for as long as the place is shown.
    """

    begin = pyqtSignal(object)
    switched = pyqtSignal(object)

    def __init__(
        self,
        words: Words,
        theme: Theme,
        unit: ForceUnit,
        remembered: Remembered,
        *,
        now: Callable[[], dt.datetime] = local_now,
        ports: Ports = serial_ports,
        listen: Listen = bluetooth_in_range,
        pick: Pick = pick_file,
        pick_new: Pick = pick_new_file,
        finds: bool = False,
    ) -> None:
        super().__init__()
        self.setAccessibleName(words("place.plan"))
        self._words, self._unit, self._remembered, self._now = words, unit, remembered, now
        self._suggested = ""
        self._loud = False
        self.go_on: QPushButton | None = None
        fields = Fields(self.edit)
        self._fields = fields
        self.who = WhoCard(words, unit, fields, remembered)
        self.what = WhatCard(words, theme, fields, self.edit, pick)
        self.sensor = SensorCard(words, fields, self.edit, ports=ports, listen=listen, pick=pick, pick_new=pick_new)
        self.last = BeginCard(words)
        fields.check(
            self.last.understood,
            lambda d: d.cautions_acknowledged is not None,
            lambda d, on: self._acknowledged(d, on=on),
        )
        self.last.begin.clicked.connect(self.press)
        self.who.people.clicked.connect(self.choose_person)
        self.people: PeopleDialog | None = None
        """The list of people that is open."""
        self.describing: DescribeDialog | None = None
        """The dialog that describes a sensor."""
        self._limit = LimitMeasurement(words, self)
        self._connect_limit()
        self.checks = PlanCheck(words, theme, unit, remembered, self, now=now)
        self._connect_checks()
        self.finding = PlanFinding(self.sensor, lambda: self.draft, self.edit, ports=ports) if finds else None
        self._lay_out()
        self.setFocusProxy(self.who.code)
        self.draft = PlanDraft()
        self.renew()

    def renew(self) -> None:
        """Begin a new plan: the settings of the last one, another person, another file."""
        self.show_draft(
            msgspec.structs.replace(self._remembered.fresh_draft(), unit=self._unit, language=self._words.language)
        )

    def show_draft(self, draft: PlanDraft) -> None:
        """Show a plan and go on with it."""
        self._loud = False
        self.draft = self._with_file(draft)
        self._show()

    def show_trouble(self, text: str) -> None:
        """Say why a session could not begin."""
        self.last.show_trouble(text)
        self._look_for_sensors()

    def keep_look(self, *, kept: bool) -> None:
        """Keep language and unit as they are while a session is shown in them, or let them be chosen again."""
        for field, key in ((self.sensor.language, "language"), (self.sensor.unit, "unit")):
            field.setEnabled(not kept)
            field.setToolTip(self._words("plan.recording" if kept else f"plan.tip.{key}"))
        if self.finding is not None:
            self.finding.kept_from_looking = kept

    def edit(self, change: Callable[[PlanDraft], PlanDraft]) -> None:
        """Change the plan and show what follows from it."""
        before, self.draft = self.draft, self._with_file(change(self.draft))
        self._loud = self._loud and bool(problems(self.draft))
        self._show()
        if (before.unit, before.language) != (self.draft.unit, self.draft.language):
            self.switched.emit(self.draft)

    def press(self) -> None:
        """Begin when nothing is missing; else go to the first thing that is, and say what."""
        self._limit.stop()
        found = problems(self.draft)
        if found:
            self._loud = True
            self._show()
            self._go_to(found[0].code)
            return
        draft = finished(self.draft)
        try:
            make_folder(draft)
        except OSError:
            self.last.show_trouble(problem_words(self._words, Problem(ProblemCode.UNWRITABLE)))
            self.sensor.out.setFocus()
            return
        self._remembered.keep(draft)
        self._leave_sensors()
        self.begin.emit(draft)

    def to_offer(self) -> None:
        """Put the focus on the offer to go on with a session that was not ended, so that the space bar takes it."""
        if self.go_on is not None:
            self.go_on.setFocus()

    def choose_person(self) -> None:
        """Open the list of the people who were tested before."""
        try:
            actions = load_actions(self.draft.actions)
        except ActionsError:
            actions = {}
        self.people = PeopleDialog(self._words, self._remembered.folder(), actions, self)
        self.people.chosen.connect(self._take_person)
        self.people.open()

    def show_sound(self, state: SoundState) -> None:
        """Say what cannot be heard, and what to install."""
        say(self.last.sound, "" if state == "on" else f"! {self._words(f'plan.sound.{state}')}")

    # inside

    def _take_person(self, known: KnownPerson) -> None:
        typed = self._remembered.lever_arms(known.person.code)
        self.edit(lambda draft: with_known_person(draft, known, typed))

    def _show(self) -> None:
        draft = self.draft
        self._fields.show(draft)
        warnings = warnings_of(draft)
        self.who.show_draft(draft, [each for each in warnings if each.of_people])
        self.what.show_draft(draft)
        self.sensor.show_draft(draft, self._now().date(), [each for each in warnings if not each.of_people])
        self.sensor.show_checked(self.checks.note(draft))
        self.last.show_draft(draft, loud=self._loud)

    def _with_file(self, draft: PlanDraft) -> PlanDraft:
        """Return the plan with a name for its file, which follows the person's code until the user types another."""
        if draft.out != self._suggested and draft.out:
            return draft
        self._suggested = str(suggested_out(self._remembered.folder(), draft.person.code, self._now()))
        return msgspec.structs.replace(draft, out=self._suggested)

    def _acknowledged(self, draft: PlanDraft, *, on: bool) -> PlanDraft:
        return msgspec.structs.replace(draft, cautions_acknowledged=self._now() if on else None)

    def _go_to(self, problem: ProblemCode) -> None:
        if problem in {ProblemCode.NO_LEVER, ProblemCode.LEVER}:
            self.what.table.to_missing()
            return
        self._field_of(problem).setFocus()

    def _field_of(self, problem: ProblemCode) -> QWidget:
        """Return the field in which a problem is solved."""
        who, what, sensor = self.who, self.what, self.sensor
        fields: dict[ProblemCode, QWidget] = {
            ProblemCode.NO_PERSON: who.code,
            ProblemCode.PERSON: who.code,
            ProblemCode.AGE: who.age,
            ProblemCode.MASS: who.mass,
            ProblemCode.STATURE: who.stature,
            ProblemCode.NO_EXAMINER: who.examiner,
            ProblemCode.EXAMINER: who.examiner,
            ProblemCode.LIMIT: who.limit,
            ProblemCode.NO_SIDES: what.sides,
            ProblemCode.TRIALS: what.trials,
            ProblemCode.REST: what.rest,
            ProblemCode.BATTERY: what.battery,
            ProblemCode.NO_ACTIONS: what.table,
            ProblemCode.NO_PORT: sensor.port,
            ProblemCode.NO_SENSOR: sensor.sensor,
            ProblemCode.SENSOR: sensor.sensor,
            ProblemCode.CALIBRATION: sensor.calibration,
            ProblemCode.PROTOCOL: sensor.protocol,
            ProblemCode.RESULTS: sensor.results,
            ProblemCode.NO_FILE: sensor.out,
            ProblemCode.FOLDER: sensor.out,
            ProblemCode.EXISTS: sensor.out,
            ProblemCode.CAUTIONS: self.last.understood,
        }
        return fields[problem]

    def _connect_limit(self) -> None:
        limit = self._limit
        self.who.measure.clicked.connect(lambda: limit.stop() if limit.running else self._measure())
        limit.said.connect(lambda text: say(self.who.holding, text))
        limit.measured.connect(lambda newtons: self.edit(lambda draft: with_limit(draft, newtons, measured=True)))
        limit.ended.connect(lambda: self.who.measure.setText(self._words("plan.measure")))
        limit.ended.connect(self._look_for_sensors)

    def _connect_checks(self) -> None:
        self.sensor.check.clicked.connect(self._check_sensor)
        self.checks.calibrated.connect(self._calibrated)
        self.checks.ended.connect(self._show)
        self.checks.ended.connect(self._look_for_sensors)
        self.sensor.describe.clicked.connect(self.describe_sensor)

    def describe_sensor(self) -> None:
        """Open the dialog that describes the sensor at the port of the plan."""
        port = self.draft.port
        if not port:
            return
        self._limit.stop()
        self._leave_sensors()
        bluetooth = self.sensor.port.is_bluetooth(port)
        today = self._now().date()
        folder = self._remembered.path.parent / PROFILES
        self.describing = DescribeDialog(self._words, port, folder, today, self, bluetooth=bluetooth)
        self.describing.described.connect(self._described)
        self.describing.finished.connect(self._look_for_sensors)
        self.describing.open()

    def _described(self, profile: str) -> None:
        self.edit(lambda draft: msgspec.structs.replace(draft, sensor=profile, calibration=""))

    def _look_for_sensors(self) -> None:
        if self.finding is not None and self.isVisible() and not self._limit.running:
            self.finding.start()

    def _leave_sensors(self) -> None:
        """Let go of the sensor that is looked at: somebody else needs it."""
        if self.finding is not None:
            self.finding.stop()

    def _check_sensor(self) -> None:
        self._limit.stop()
        self._leave_sensors()
        self.checks.open(self.draft)

    def _calibrated(self, file: str) -> None:
        """Use a calibration that came of a check, unless it is an invented sensor's."""
        if self.draft.port is not None:
            self.edit(lambda draft: msgspec.structs.replace(draft, calibration=file))

    def _measure(self) -> None:
        self._leave_sensors()
        self.who.measure.setText(self._words("plan.measure_stop"))
        self._limit.start(self.draft)

    def hideEvent(self, event: QHideEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Let go of a sensor that was being measured with."""
        self._limit.stop()
        self._leave_sensors()
        super().hideEvent(event)

    def showEvent(self, event: QShowEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Look for sensors, once the window stands."""
        super().showEvent(event)
        QTimer.singleShot(FIND_AFTER_MS, self._look_for_sensors)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Scale the font with the window."""
        super().resizeEvent(event)
        top = self.window()
        grow(self, font_size(top.height() if top else self.height()))
        self.last.setMaximumHeight(max(self.last.minimumSizeHint().height(), round(LAST_SHARE * self.height())))

    def _lay_out(self) -> None:
        inside = QWidget()
        cards = QHBoxLayout(inside)
        cards.setContentsMargins(0, 0, 0, 0)
        cards.setSpacing(14)
        for card, share in ((self.who, 25), (self.what, 47), (self.sensor, 28)):
            cards.addWidget(card, share)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 8, 18, 14)
        column.setSpacing(12)
        for note in self._notices():
            column.addWidget(note)
        column.addWidget(Scrolled(inside), 1)
        column.addWidget(self.last)  # the way to begin, and what keeps it from beginning, is always in view
        self._explain()
        for one, next_one in pairwise(self.in_turn()):
            self.setTabOrder(one, next_one)

    def _explain(self) -> None:
        """Give each control its tooltip."""
        for key, control in self._controls().items():
            control.setToolTip(self._words(f"plan.tip.{key}"))

    def _controls(self) -> dict[str, QWidget]:
        """Return the controls whose tooltips are of the form ``plan.tip.X``; the others have one of their own."""
        who, what, sensor, last = self.who, self.what, self.sensor, self.last
        return {
            "code": who.code,
            "people": who.people,
            "sex": who.sex,
            "age": who.age,
            "mass": who.mass,
            "height": who.stature,
            "dominant": who.dominant,
            "examiner": who.examiner,
            "limit": who.limit,
            "battery": what.battery,
            "sides": what.sides,
            "trials": what.trials,
            "rest": what.rest,
            "port": sensor.port,
            "sensor": sensor.sensor,
            "calibration": sensor.calibration,
            "protocol": sensor.protocol,
            "results": sensor.results,
            "unit": sensor.unit,
            "language": sensor.language,
            "hide_number": sensor.hidden,
            "understood": last.understood,
            "begin": last.begin,
        }

    def in_turn(self) -> list[QWidget]:
        """Return what the tab key goes through, in turn."""
        who, what, sensor, last = self.who, self.what, self.sensor, self.last
        return [
            *(
                who.code,
                who.sex,
                who.age,
                who.mass,
                who.stature,
                who.dominant,
                who.affected,
                who.examiner,
                who.limit,
                who.measure,
            ),
            *(what.battery, what.sides, what.trials, what.rest, what.torque, what.alternate, what.table),
            *(
                sensor.port,
                sensor.refresh,
                sensor.sensor,
                sensor.calibration,
                sensor.find_calibration,
                sensor.check,
                sensor.describe,
            ),
            *(
                sensor.protocol,
                sensor.results,
                sensor.out,
                sensor.find_out,
                sensor.unit,
                sensor.language,
                sensor.hidden,
            ),
            *(last.understood, last.begin, who.people),
        ]

    def _notices(self) -> list[QWidget]:
        """Return what is to be said once: a session that was not ended, what was kept and cannot be read."""
        notices: list[QWidget] = []
        trouble, unfinished = self._remembered.trouble, self._remembered.unfinished
        if trouble is not None:
            notices.append(Notice(trouble.said(self._words)))
        if unfinished is not None:
            person = unfinished.draft.person.code
            text = self._words("plan.unfinished", file=Path(unfinished.path).name, person=person)
            notice = Notice(text)
            self.go_on = notice.button(self._words("plan.go_on"), lambda: self._go_on(unfinished.draft, notice))
            self.go_on.setToolTip(self._words("plan.tip.go_on"))
            self.leave = notice.button(self._words("plan.leave"), lambda: self._leave(notice))
            self.leave.setToolTip(self._words("plan.tip.leave"))
            notices.append(notice)
        return notices

    def _go_on(self, draft: PlanDraft, notice: QWidget) -> None:
        self.show_draft(msgspec.structs.replace(draft, resume=True, cautions_acknowledged=None))
        notice.hide()
        self.last.understood.setFocus()

    def _leave(self, notice: QWidget) -> None:
        self._remembered.ended()
        notice.hide()
        self.who.code.setFocus()
