"""The pages of a check in the window: what is to be hung, the check under way, and what came of it."""

from __future__ import annotations

import math

from PyQt6.QtCore import QLocale, Qt
from PyQt6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QProgressBar,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from acquire.values.units import ForceUnit, from_newtons
from analysis.sensor_check import Procedure, SensorCheck, Status
from ui.model.check.fields import masses_text, parse_masses, parse_place
from ui.model.check.text import SIGNS, asked, facts, finding_name, finding_phrase, rows, seen
from ui.model.theme import Theme
from ui.session.check_routine import CheckRoutine, State
from ui.session.check_run import CheckRun, recent
from ui.session.check_setup import CheckError, CheckSetup, check_steps, duration_s
from ui.window.stage.trace_view import TimeSpan, TraceView
from ui.window.widgets.fields import add_row, add_whole
from ui.window.widgets.panels import weigh
from ui.words.numbers import shown_number
from ui.words.words import Words

SHOWN_S = 30.0
SPAN = TimeSpan(-SHOWN_S, 0.0, 5)
COLOURS = {Status.PASS: "good", Status.WARN: "warn", Status.FAIL: "bad"}
"""What a label of a status is called, which gives it its colour."""
FORM_WIDTH = 620
KEPT_TOGETHER = "\u00a0%"
"""A number and its unit stay on one line."""
WIDE = 3
"""Size of the big number, as a multiple of the font size."""


class SetupPage(QWidget):
    """The fields of a check, with what was typed the last time."""

    def __init__(self, words: Words, setup: CheckSetup, procedure: Procedure) -> None:
        super().__init__()
        self._words, self._procedure = words, procedure
        self.weights = QLineEdit(masses_text(setup.masses_kg))
        self.weights.setPlaceholderText(words("check.weights_hint"))
        self.weights.setToolTip(words("check.weights_about"))
        self.full = QCheckBox(words("check.full"))
        self.full.setToolTip(words("check.full_about"))
        self.full.setChecked(setup.full)
        self.latitude = QLineEdit(shown_number(setup.latitude_deg, 4).replace(".", QLocale().decimalPoint()))
        self.elevation = QLineEdit(shown_number(setup.height_m, 0))
        for field in (self.latitude, self.elevation):
            field.setPlaceholderText(words("check.place_hint"))
        self.serial = QLineEdit(setup.serial)
        self.by = QLineEdit(setup.by)
        self.by.setPlaceholderText(words("check.by_hint"))
        self.about = quiet("")
        self._lay_out()
        self.weights.textChanged.connect(self._tell)
        self.full.toggled.connect(self._tell)
        self._tell()

    def _tell(self) -> None:
        """Say what will be done, and about how long it takes."""
        try:
            setup = self.setup()
        except CheckError as error:
            self.about.setText(f"! {error.phrase.said(self._words)}")
            return
        steps = check_steps(setup, self._procedure)
        key = "check.about" if setup.rising else "check.about_look"
        minutes = math.ceil(duration_s(steps) / 60.0)
        facts = {"masses": masses_text(setup.rising), "steps": len(steps), "minutes": minutes}
        self.about.setText(self._words(key, **facts))

    def setup(self) -> CheckSetup:
        """Return what was typed.

        Raises
        ------
        CheckError
            If a field cannot be what it says.
        """
        latitude, height = parse_place(self.latitude.text(), self.elevation.text())
        masses = parse_masses(self.weights.text())
        return CheckSetup(
            masses_kg=masses,
            full=self.full.isChecked(),
            latitude_deg=latitude,
            height_m=height,
            serial=self.serial.text().strip(),
            by=self.by.text().strip(),
        )

    def _lay_out(self) -> None:
        words = self._words
        narrow = QWidget()
        narrow.setMaximumWidth(FORM_WIDTH)
        form = QGridLayout(narrow)
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(10)
        form.setVerticalSpacing(8)
        form.setColumnStretch(1, 1)
        add_row(form, words("check.weights"), self.weights, "kg")
        add_whole(form, quiet(words("check.weights_about")))
        add_whole(form, self.full)
        add_row(form, words("check.latitude"), self.latitude, words("check.degrees"))
        add_row(form, words("check.height"), self.elevation, words("check.metres"))
        add_row(form, words("check.serial"), self.serial)
        add_row(form, words("check.by"), self.by)
        add_whole(form, self.about)
        caution = QLabel(f"! {words('check.caution')}")
        caution.setObjectName("warn")
        caution.setWordWrap(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(narrow)
        column.addSpacing(8)
        column.addWidget(caution)
        column.addStretch(1)


class RunPage(QWidget):
    """What to do, what the sensor sees, and how far the check has come."""

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        super().__init__()
        self._words, self._unit = words, unit
        self.step = quiet("")
        self.ask, self.see, self.force = QLabel(), QLabel(), QLabel()
        self.ask.setObjectName("cue")
        self.ask.setWordWrap(True)
        self.see.setWordWrap(True)
        self.force.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.force.setAccessibleName(words("check.now"))
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setAccessibleName(words("check.title"))
        self.trace = TraceView(words, theme, unit)
        self.trace.show_span(SPAN)
        self.trace.setAccessibleName(words("check.now"))
        self._lay_out()

    def show_run(self, run: CheckRun) -> None:
        """Show where a check is."""
        routine, words = run.routine, self._words
        count = len(routine.steps)
        self.step.setText(words("check.step", number=min(routine.number + 1, count), count=count))
        self.ask.setText(asked(routine.step, routine.hung_kg).said(words))
        self.see.setText(seen(routine, words("check.space")).said(words))
        weigh(self.see, _colour(routine), bold=routine.load.overloaded or routine.state is State.WRONG)
        self.force.setText(f"{words.number(from_newtons(routine.load.force_n, self._unit), 1)} {self._unit.symbol}")
        self.progress.setRange(0, count)
        self.progress.setValue(routine.number)
        self.trace.show_trace(*recent(run, SHOWN_S))

    def enlarge(self) -> None:
        """Let the ask and the force be read from where the weights hang."""
        for label, times in ((self.ask, 2.0), (self.force, float(WIDE)), (self.see, 1.3)):
            font = label.font()
            font.setPointSizeF(times * self.font().pointSizeF())
            font.setBold(label is not self.see)
            label.setFont(font)

    def _lay_out(self) -> None:
        said = QVBoxLayout()
        said.addWidget(self.step)
        said.addWidget(self.ask)
        said.addWidget(self.see)
        said.addStretch(1)
        top = QHBoxLayout()
        top.addLayout(said, 1)
        top.addWidget(self.force)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addWidget(self.trace, 1)
        column.addWidget(self.progress)


class ResultPage(QWidget):
    """The verdict, each finding with what to do, and the numbers."""

    def __init__(self, words: Words) -> None:
        super().__init__()
        self._words = words
        self.verdict = QLabel()
        self.verdict.setWordWrap(True)
        self.findings = QVBoxLayout()
        self.findings.setSpacing(6)
        self.table = QTableWidget(0, 4)
        self.table.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.table.setAccessibleName(words("check.measured"))
        self.facts = quiet("")
        self._lay_out()

    def show_check(self, check: SensorCheck, where: str) -> None:
        """Show what came of a check."""
        words = self._words
        self.verdict.setText(f"{SIGNS[check.verdict]} {words(f'check.verdict.{check.verdict}')}")
        weigh(self.verdict, COLOURS[check.verdict], bold=True)
        # the worst first: what passes needs no reading
        for finding in sorted(check.findings, key=lambda each: -list(COLOURS).index(each.status)):
            sentence = finding_phrase(finding, check).said(words)
            label = QLabel(f"{SIGNS[finding.status]} {sentence}".replace(" %", KEPT_TOGETHER))
            label.setObjectName(COLOURS[finding.status])
            label.setAccessibleName(finding_name(finding, words))
            label.setWordWrap(True)
            self.findings.addWidget(label)
        self.findings.addStretch(1)
        self._fill(check)
        said = [fact.said(words) for fact in facts(check)]
        said += [words("check.invented")] if check.invented else []
        self.facts.setText("\n".join([*said, words("check.kept", file=where)]))

    def _fill(self, check: SensorCheck) -> None:
        measured = rows(check, self._words)
        self.table.setRowCount(len(measured))
        for at, row in enumerate(measured):
            texts = (self._words(f"check.figure.{row.key}"), row.newtons, row.percent, row.uncertainty)
            for column, text in enumerate(texts):
                item = QTableWidgetItem(text)
                if column:
                    item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(at, column, item)

    def _lay_out(self) -> None:
        words, table = self._words, self.table
        table.setHorizontalHeaderLabels([words(f"check.{name}") for name in HEADINGS])
        table.setShowGrid(False)
        for header in (table.verticalHeader(), table.horizontalHeader()):
            if header is not None:
                header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        if (side := table.verticalHeader()) is not None:
            side.hide()
        if (top := table.horizontalHeader()) is not None:
            top.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        inside = QWidget()
        inside.setLayout(self.findings)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(inside)
        scroll.setAccessibleName(words("check.found"))
        row = QHBoxLayout()
        row.setSpacing(16)
        row.addWidget(scroll, 4)
        row.addWidget(table, 5)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.verdict)
        column.addLayout(row, 1)
        self.facts.setWordWrap(True)
        column.addWidget(self.facts)


HEADINGS = ("measured", "newtons", "percent", "uncertainty")


def _colour(routine: CheckRoutine) -> str:
    if routine.load.overloaded:
        return "bad"
    return "warn" if routine.state in {State.WRONG, State.MOVING} else "quiet"


def quiet(text: str) -> QLabel:
    """Return a label of less weight."""
    label = QLabel(text)
    label.setObjectName("quiet")
    label.setWordWrap(True)
    return label
