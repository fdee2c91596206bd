"""The cards of the Plan place: who, what, with what."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from PyQt6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSpinBox,
    QToolButton,
    QWidget,
)

from acquire.values.records import Side
from acquire.values.units import ForceUnit, from_newtons, to_newtons
from analysis.battery.ordering import Estimate
from analysis.errors import ActionsError
from ui.model.plan.checks import MOST_TRIALS
from ui.model.plan.edits import with_limit, with_person
from ui.model.plan.plan import OWN, PlanDraft, estimate_of
from ui.model.plan.problems import PlanWarning
from ui.model.plan.remembered import Remembered
from ui.model.plan.rows import with_actions, with_battery
from ui.model.plan.text import estimate_words, minutes
from ui.model.theme import Theme
from ui.window.plan.table import ActionTable, Edit
from ui.window.widgets.fields import Fields, FileChoice, Pick, add_row, label_of, named, narrow
from ui.window.widgets.panels import Panel, warn, weigh
from ui.words.words import Words

replace = msgspec.structs.replace
CM = 100.0
SIDES: dict[str, tuple[Side, ...]] = {"both": ("left", "right"), "left": ("left",), "right": ("right",)}
NO_ESTIMATE = Estimate(total_s=0.0, waiting_s=0.0, position_changes=0)


class WhoCard(Panel):
    """The person tested, and who examines."""

    def __init__(self, words: Words, unit: ForceUnit, fields: Fields, remembered: Remembered) -> None:
        super().__init__(words("plan.who"))
        self._words = words
        self.code, self.age, self.mass, self.stature, self.examiner, self.limit = (QLineEdit() for _ in range(6))
        self.people = QToolButton()
        self.people.setText("\u25be")
        self.people.setAccessibleName(words("plan.people.title"))
        self.code.setPlaceholderText(words("plan.code_hint"))
        self.examiner.setPlaceholderText(words("plan.code_hint"))
        self.limit.setPlaceholderText(words("plan.limit_hint"))
        self._unit = QLabel(unit.symbol)
        self.measure = QPushButton(words("plan.measure"))
        self.measure.setAccessibleDescription(words("plan.measure_about"))
        self.measure.setToolTip(words("plan.measure_about"))
        form = self.form()
        self._add_person(form, fields, remembered)
        self._add_examiner(form, fields, remembered)
        self.holding = self.note("quiet")
        self.warning = self.note("warn")
        self.column.addStretch(1)

    def show_draft(self, draft: PlanDraft, warnings: Sequence[PlanWarning]) -> None:
        """Show what follows from a plan."""
        self._unit.setText(draft.unit.symbol)
        warn(self.warning, [self._words(f"plan.warn.{each.value}") for each in warnings])

    def _add_person(self, form: QGridLayout, fields: Fields, remembered: Remembered) -> None:
        words = self._words
        none = words("plan.not_given")
        fields.text(self.code, lambda d: d.person.code, remembered.with_person)
        fields.number(self.age, lambda d: d.person.age_years, lambda d, v: with_person(d, age_years=v))
        fields.number(self.mass, lambda d: d.person.mass_kg, lambda d, v: with_person(d, mass_kg=v))
        fields.number(
            self.stature,
            lambda d: None if d.person.height_m is None else CM * d.person.height_m,
            lambda d, v: with_person(d, height_m=None if v is None else v / CM),
        )
        self.sex = fields.choice(
            QComboBox(),
            [(None, none), ("female", words("plan.female")), ("male", words("plan.male"))],
            lambda d: d.person.sex,
            lambda d, v: with_person(d, sex=v),
        )
        self.dominant = fields.choice(
            QComboBox(),
            [(None, none), ("left", words("test.left")), ("right", words("test.right"))],
            lambda d: d.person.dominant_side,
            lambda d, v: with_person(d, dominant_side=v),
        )
        add_row(form, words("plan.code"), self.code, self.people)
        add_row(form, words("plan.sex"), self.sex)
        add_row(form, words("plan.age"), self.age, words("plan.years"))
        add_row(form, words("plan.mass"), self.mass, words("plan.kilograms"))
        add_row(form, words("plan.height"), self.stature, words("plan.centimetres"))
        add_row(form, words("plan.dominant"), self.dominant)
        self.affected = fields.choice(
            QComboBox(),
            [(None, none), ("left", words("test.left")), ("right", words("test.right"))],
            lambda d: d.person.affected_side,
            lambda d, v: with_person(d, affected_side=v),
        )
        add_row(form, words("plan.affected"), self.affected)

    def _add_examiner(self, form: QGridLayout, fields: Fields, remembered: Remembered) -> None:
        words = self._words
        form.setRowMinimumHeight(form.rowCount(), 8)
        fields.text(self.examiner, lambda d: d.examiner, remembered.with_examiner)
        fields.number(
            self.limit,
            lambda d: None if d.examiner_limit_n is None else from_newtons(d.examiner_limit_n, d.unit),
            lambda d, v: with_limit(d, None if v is None else to_newtons(v, d.unit)),
        )
        add_row(form, words("plan.examiner_code"), self.examiner)
        add_row(form, words("plan.limit"), self.limit, self._unit, self.measure, over=True)
        self._unit.setObjectName("quiet")


class WhatCard(Panel):
    """The battery: its actions, sides, trials, methods, lever arms, and how long it takes."""

    def __init__(self, words: Words, theme: Theme, fields: Fields, edit: Edit, pick: Pick) -> None:
        super().__init__(words("plan.what"))
        self._words = words
        self._add_choices(fields, pick)
        self._add_numbers(fields)
        self.table = ActionTable(words, theme, edit)
        self.column.addWidget(self.table, 1)
        self.estimate, self.details = QLabel(), QLabel()
        weigh(self.estimate, "heading", bold=True)
        self.details.setObjectName("quiet")
        row = QHBoxLayout()
        row.addWidget(self.estimate)
        row.addStretch(1)
        row.addWidget(self.details)
        self.column.addLayout(row)

    def show_draft(self, draft: PlanDraft) -> None:
        """Show what follows from a plan: the table, and how long it takes."""
        self.table.show_draft(draft)
        try:
            estimate = estimate_of(draft)
        except (ActionsError, ValueError):
            estimate = NO_ESTIMATE
        self.estimate.setText(estimate_words(self._words, estimate))
        self.details.setText(self._words("plan.waiting", minutes=minutes(estimate.waiting_s)))

    def _add_choices(self, fields: Fields, pick: Pick) -> None:
        words = self._words
        names = [(name, words(f"plan.battery_{name}")) for name in ("all", "arm", "leg", OWN)]
        self.battery = fields.choice_or_file(
            narrow(QComboBox()),
            names,
            lambda d: d.battery,
            FileChoice(words("plan.battery_file"), lambda: pick("*.toml"), with_battery),
            FileChoice(words("plan.actions_file"), lambda: pick("*.toml"), with_actions),
        )
        self.sides = fields.choice(
            QComboBox(),
            [(SIDES["both"], words("plan.both")), *((SIDES[s], words(f"test.{s}")) for s in ("left", "right"))],
            lambda d: d.sides,
            lambda d, v: replace(d, sides=v),
        )
        self._row((words("plan.battery"), self.battery, 3), (words("plan.sides"), self.sides, 1))

    def _add_numbers(self, fields: Fields) -> None:
        words = self._words
        self.trials, self.rest = QSpinBox(), QSpinBox()
        self.trials.setRange(1, MOST_TRIALS)
        self.rest.setRange(0, 900)
        self.rest.setSingleStep(15)
        self.rest.setSuffix(f" {words('plan.seconds')}")
        fields.whole_number(self.trials, lambda d: d.trials, lambda d, v: replace(d, trials=v))
        fields.whole_number(self.rest, lambda d: d.rest_s, lambda d, v: replace(d, rest_s=float(v)))
        self.torque = fields.check(
            QCheckBox(words("plan.torque")), lambda d: d.want_torque, lambda d, v: replace(d, want_torque=v)
        )
        named(self.torque, words("plan.torque")).setToolTip(words("plan.torque_about"))
        self.torque.setAccessibleDescription(words("plan.torque_about"))
        self.alternate = fields.check(
            QCheckBox(words("stage.alternate")), lambda d: d.alternate, lambda d, v: replace(d, alternate=v)
        )
        named(self.alternate, words("stage.alternate")).setToolTip(words("stage.alternate_about"))
        self.alternate.setAccessibleDescription(words("stage.alternate_about"))
        self._row((words("plan.trials"), self.trials, 1), (words("plan.rest"), self.rest, 1), ("", self.torque, 0))
        self._row(("", self.alternate, 1))

    def _row(self, *parts: tuple[str, QWidget, int]) -> None:
        row = QHBoxLayout()
        row.setSpacing(8)
        for label, field, stretch in parts:
            if label:
                row.addWidget(label_of(field, label))
            row.addWidget(field, stretch)
        self.column.addLayout(row)
