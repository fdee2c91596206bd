"""The card of the Plan place that says with what: sensor, calibration, protocol, file, unit and language."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from PyQt6.QtCore import pyqtSignal
from PyQt6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QToolButton,
    QWidget,
)

from acquire.errors import LinkError
from acquire.links.ports import PortInfo
from acquire.sensor.profile import known_profiles
from acquire.values.units import ForceUnit
from analysis.results.settings import known_result_settings
from analysis.trial.protocol import known_protocols
from ui.model.check.note import CheckNote
from ui.model.plan.bluetooth_profile import called, sensor_for, services_of_profiles, worth_showing
from ui.model.plan.calibration_note import CalibrationNote, calibration_note
from ui.model.plan.edits import with_port, with_protocol
from ui.model.plan.found_sensor import is_good, seen_details, seen_words
from ui.model.plan.plan import PlanDraft
from ui.model.plan.problems import PlanWarning
from ui.model.stage.trouble_text import trouble_sentence
from ui.session.find_sensor import Seen
from ui.window.plan.bluetooth import BluetoothSearch, Listen
from ui.window.plan.port import PortBox, Ports
from ui.window.plan.table import Edit
from ui.window.widgets.fields import Fields, FileChoice, Pick, add_row, add_whole, narrow
from ui.window.widgets.panels import Panel, say, warn, weigh
from ui.words.phrase import Phrase
from ui.words.words import Words, languages

if TYPE_CHECKING:
    from acquire.links.bluetooth_search import BluetoothSensor

replace = msgspec.structs.replace


class SensorCard(Panel):
    """The sensor and the state of its calibration, the protocol, and where the session is saved.

    `chosen_by_hand` is emitted when the user chooses a port or a kind of sensor, `in_range` with name and profile of
    the one Bluetooth sensor in range that a profile fits.
    """

    chosen_by_hand = pyqtSignal()
    in_range = pyqtSignal(str, str)

    def __init__(
        self, words: Words, fields: Fields, edit: Edit, *, ports: Ports, listen: Listen, pick: Pick, pick_new: Pick
    ) -> None:
        super().__init__(words("plan.with_what"))
        self._words, self._edit = words, edit
        self._real = ("", "")
        self.port = PortBox(words, ports)
        self.port.currentTextChanged.connect(lambda _: self._take_port())
        self._asked = False
        self._connect_choices()
        self.refresh = _button("\u21bb", words("plan.refresh"))
        self.refresh.clicked.connect(self._look)
        self.search = BluetoothSearch(listen, self)
        self.search.found.connect(self._heard)
        self.search.failed.connect(self._heard_nothing)
        form = self.form()
        add_row(form, words("plan.port"), self.port, self.refresh)
        self.bluetooth = QLabel()
        self.bluetooth.setObjectName("quiet")
        self.bluetooth.setWordWrap(True)
        self.bluetooth.hide()
        self.found = QLabel()
        self.found.setWordWrap(True)
        self.found.hide()
        add_whole(form, self.found)
        add_whole(form, self.bluetooth)
        self._add_sensor(fields, form, pick)
        self._add_calibration(fields, form, pick)
        self._add_protocol(fields, form, pick)
        self._add_out(fields, form, pick_new)
        self._add_shown(fields, form)
        self.warning = self.note("warn")
        self.column.addStretch(1)

    def show_draft(self, draft: PlanDraft, today: dt.date, warnings: Sequence[PlanWarning]) -> None:
        """Show what follows from a plan: the port, the calibration in words, what can be chosen."""
        self.port.show_port(draft.port)
        simulated = draft.port is None
        for field in (self.sensor, self.calibration, self.find_calibration):
            field.setEnabled(not simulated)
        self.describe.setEnabled(bool(draft.port))
        if not simulated:
            self._real = (draft.sensor, draft.calibration)
        self.statement.setVisible(not simulated)
        self._show_note(calibration_note(draft.calibration, on=today, sensor=draft.sensor))
        self.out.setToolTip(f"{self._words('plan.tip.out')}\n{draft.out}")
        warn(self.warning, [self._words(f"plan.warn.{each.value}") for each in warnings])

    def show_checked(self, note: CheckNote | None) -> None:
        """Show what is known of the sensor from its last check; nothing when it is not known which sensor it is."""
        self.checked.setVisible(note is not None and bool(note.phrases))
        self.check.setEnabled(note is not None)
        if note is not None:
            _tell(self.checked, _said(note.phrases, self._words), good=note.good)

    def show_looking(self, port: str) -> None:
        """Say that a port is being looked at."""
        say(self.found, self._words("plan.found.looking", port=Path(port).name))
        weigh(self.found, "quiet")

    def show_seen(self, seen: Seen | None, ports: Sequence[PortInfo]) -> None:
        """Say what was found, and how it rests; nothing without anything found."""
        self.found.setVisible(seen is not None)
        if seen is not None:
            _tell(self.found, (seen_words(seen, ports, self._words),), good=is_good(seen))
            self.found.setToolTip(seen_details(seen, ports))

    def _show_note(self, note: CalibrationNote) -> None:
        _tell(self.statement, _said(note.phrases, self._words), good=note.trusted)

    @property
    def real_sensor(self) -> tuple[str, str]:
        """Profile and calibration of the last sensor that was not the simulated one."""
        return self._real

    def listen_quietly(self) -> None:
        """Listen for Bluetooth sensors unasked: where that cannot be done, nothing is said."""
        self.search.start()

    def _connect_choices(self) -> None:
        field = self.port.lineEdit()
        self.port.activated.connect(lambda _: self.chosen_by_hand.emit())
        if field is not None:
            field.textEdited.connect(lambda _: self.chosen_by_hand.emit())

    def _look(self) -> None:
        """Look which ports there are, and listen for Bluetooth sensors."""
        self._asked = True
        self.port.look()
        self._tell_search(self._words("plan.radio_listening"))
        self.search.start()

    def _heard(self, sensors: Sequence[BluetoothSensor]) -> None:
        shown = worth_showing(sensors, services_of_profiles(self._real[0]))
        self.port.show_bluetooth(shown)
        if shown or self._asked:
            self._tell_search(self._words("plan.radio_found", count=len(shown)))
        self._asked = False
        fitting = [(each, profile) for each in shown if (profile := sensor_for(each, self._real[0]))]
        if len(fitting) == 1:
            sensor, profile = fitting[0]
            self.in_range.emit(called(sensor, shown), profile)

    def _heard_nothing(self, error: LinkError) -> None:
        if self._asked:
            self._tell_search(trouble_sentence(error, self._words))
        self._asked = False

    def _tell_search(self, sentence: str) -> None:
        say(self.bluetooth, sentence)

    def _take_port(self) -> None:
        sensor, calibration = self._real
        sensor = self.port.profile_over_bluetooth(sensor) or sensor
        self._edit(lambda draft: with_port(draft, self.port.port, sensor=sensor, calibration=calibration))

    def _add_sensor(self, fields: Fields, form: QGridLayout, pick: Pick) -> None:
        words = self._words
        self.sensor = fields.choice_or_file(
            narrow(QComboBox()),
            [(profile.name, profile.title) for profile in known_profiles()],
            lambda d: d.sensor,
            FileChoice(words("plan.sensor_file"), lambda: pick("*.toml"), lambda d, v: replace(d, sensor=v)),
        )
        self.sensor.setPlaceholderText(words("plan.sensor_hint"))
        self.sensor.activated.connect(lambda _: self.chosen_by_hand.emit())
        add_row(form, words("plan.sensor"), self.sensor)

    def _add_calibration(self, fields: Fields, form: QGridLayout, pick: Pick) -> None:
        words = self._words
        self.calibration = fields.text(
            QLineEdit(), lambda d: d.calibration, lambda d, v: replace(d, calibration=v.strip())
        )
        self.calibration.setPlaceholderText(words("plan.calibration_hint"))
        self.find_calibration = _button("\u2026", words("plan.choose_file"))
        self.find_calibration.clicked.connect(
            lambda: self._picked(pick("*.toml"), lambda d, v: replace(d, calibration=v))
        )
        add_row(form, words("plan.calibration_file"), self.calibration, self.find_calibration)
        self.statement = QLabel()
        self.statement.setWordWrap(True)
        add_whole(form, self.statement)
        self.checked = QLabel()
        self.checked.setWordWrap(True)
        add_whole(form, self.checked)
        self.check = QPushButton(words("check.open"))
        self.check.setToolTip(words("check.open_about"))
        self.describe = QPushButton(words("describe.open"))
        self.describe.setToolTip(words("describe.open_about"))
        self.describe.setAccessibleDescription(words("describe.open_about"))
        both = QWidget()
        row = QHBoxLayout(both)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.check, 1)
        row.addWidget(self.describe, 1)
        add_whole(form, both)

    def _add_protocol(self, fields: Fields, form: QGridLayout, pick: Pick) -> None:
        words = self._words
        self.protocol = fields.choice_or_file(
            narrow(QComboBox()),
            [(name, name) for name in known_protocols()],
            lambda d: d.protocol,
            FileChoice(words("plan.protocol_file"), lambda: pick("*.toml"), with_protocol),
        )
        add_row(form, words("plan.protocol"), self.protocol)
        self.results = fields.choice_or_file(
            narrow(QComboBox()),
            [(name, name) for name in known_result_settings()],
            lambda d: d.results,
            FileChoice(words("plan.results_file"), lambda: pick("*.toml"), lambda d, v: replace(d, results=v)),
        )
        add_row(form, words("plan.results"), self.results)

    def _add_out(self, fields: Fields, form: QGridLayout, pick_new: Pick) -> None:
        words = self._words
        self.out = fields.text(QLineEdit(), lambda d: d.out, lambda d, v: replace(d, out=v))
        find = _button("\u2026", words("plan.choose_file"))
        find.clicked.connect(lambda: self._picked(pick_new(self.out.text()), lambda d, v: replace(d, out=v)))
        self.find_out = find
        add_row(form, words("plan.out"), self.out, find)

    def _add_shown(self, fields: Fields, form: QGridLayout) -> None:
        words = self._words
        units = [(unit, unit.symbol) for unit in ForceUnit]
        self.unit = fields.choice(QComboBox(), units, lambda d: d.unit, lambda d, v: replace(d, unit=v))
        spoken = [(name, words(f"plan.language_{name}")) for name in languages()]
        self.language = fields.choice(QComboBox(), spoken, lambda d: d.language, lambda d, v: replace(d, language=v))
        add_row(form, words("plan.unit"), self.unit)
        add_row(form, words("plan.language"), self.language)
        self.hidden = fields.check(
            QCheckBox(words("plan.hide_number")), lambda d: d.hide_number, lambda d, v: replace(d, hide_number=v)
        )
        add_whole(form, self.hidden)

    def _picked(self, path: str, put: Callable[[PlanDraft, str], PlanDraft]) -> None:
        if path:
            self._edit(lambda draft: put(draft, path))


def _said(phrases: Sequence[Phrase], words: Words) -> list[str]:
    return [phrase.said(words) for phrase in phrases]


def _tell(label: QLabel, sentences: Sequence[str], *, good: bool) -> None:
    """Say something of the sensor, with a sign, a colour and a weight for whether all is well."""
    sign = "\u2713" if good else "!"
    label.setText(f"{sign} {' '.join(sentences)}")
    weigh(label, "good" if good else "warn", bold=not good)


def _button(sign: str, about: str) -> QToolButton:
    button = QToolButton()
    button.setText(sign)
    button.setToolTip(about)
    button.setAccessibleName(about)
    return button
