"""Widgets that hold a part of the plan: each shows it, and hands on what the user makes of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from PyQt6.QtCore import QLocale, QRegularExpression, QSignalBlocker
from PyQt6.QtGui import QRegularExpressionValidator
from PyQt6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QSpinBox,
    QWidget,
)

from ui.model.plan.plan import PlanDraft
from ui.words.numbers import parse_number, shown_number

Value = TypeVar("Value")
Put = Callable[[PlanDraft, Value], PlanDraft]
Pick = Callable[[str], str]
"""Asks for a file, given the kinds there are or where to begin; empty when the user changes their mind."""
NUMBER = r"\d{0,5}([.,]\d{0,2})?"


@dataclass(frozen=True, slots=True)
class FileChoice:
    """The entry of a list by which a file is picked."""

    words: str
    pick: Callable[[], str]
    """Asks the user; empty when they change their mind."""
    put: Callable[[PlanDraft, str], PlanDraft]


class Fields:
    """The fields of the place: `show` puts a plan into all of them, and an edit of one makes a new plan.

    Parameters
    ----------
    edit : callable
        Takes the function that makes the new plan of the old one.
    """

    def __init__(self, edit: Callable[[Callable[[PlanDraft], PlanDraft]], None]) -> None:
        self._edit = edit
        self._shows: list[Callable[[PlanDraft], None]] = []
        self._shown = PlanDraft()

    def show(self, draft: PlanDraft) -> None:
        """Show a plan; nothing is handed on, and a field that says the same already is left alone."""
        self._shown = draft
        for show in self._shows:
            show(draft)

    def text(self, field: QLineEdit, get: Callable[[PlanDraft], str], put: Put[str]) -> QLineEdit:
        """Bind a line of text."""

        def show(draft: PlanDraft) -> None:
            if field.text() != get(draft):
                field.setText(get(draft))

        field.textEdited.connect(lambda text: self._edit(lambda draft: put(draft, text)))
        self._shows.append(show)
        return field

    def number(
        self, field: QLineEdit, get: Callable[[PlanDraft], float | None], put: Put[float | None], digits: int = 1
    ) -> QLineEdit:
        """Bind a number that may be left out."""
        field.setValidator(QRegularExpressionValidator(QRegularExpression(NUMBER), field))

        def show(draft: PlanDraft) -> None:
            if shown_number(_typed(field.text()), digits) != shown_number(get(draft), digits):
                field.setText(shown_number(get(draft), digits).replace(".", QLocale().decimalPoint()))

        field.textEdited.connect(lambda text: self._edit(lambda draft: put(draft, _typed(text))))
        self._shows.append(show)
        return field

    def whole_number(self, field: QSpinBox, get: Callable[[PlanDraft], float], put: Put[int]) -> QSpinBox:
        """Bind a whole number."""

        def show(draft: PlanDraft) -> None:
            with QSignalBlocker(field):
                field.setValue(round(get(draft)))

        field.valueChanged.connect(lambda value: self._edit(lambda draft: put(draft, value)))
        self._shows.append(show)
        return field

    def check(self, box: QCheckBox, get: Callable[[PlanDraft], bool], put: Put[bool]) -> QCheckBox:
        """Bind a yes or no."""

        def show(draft: PlanDraft) -> None:
            with QSignalBlocker(box):
                box.setChecked(get(draft))

        box.toggled.connect(lambda on: self._edit(lambda draft: put(draft, on)))
        self._shows.append(show)
        return box

    def choice(
        self, box: QComboBox, choices: Sequence[tuple[Value, str]], get: Callable[[PlanDraft], Value], put: Put[Value]
    ) -> QComboBox:
        """Bind one of several values, each with its words."""
        values = [value for value, _ in choices]
        box.addItems([words for _, words in choices])

        def show(draft: PlanDraft) -> None:
            with QSignalBlocker(box):
                box.setCurrentIndex(values.index(get(draft)) if get(draft) in values else -1)

        box.activated.connect(lambda at: self._edit(lambda draft: put(draft, values[at])))
        self._shows.append(show)
        return box

    def choice_or_file(
        self, box: QComboBox, choices: Sequence[tuple[str, str]], get: Callable[[PlanDraft], str], *files: FileChoice
    ) -> QComboBox:
        """Bind one of several names, or a file that the user picks."""
        values: list[str] = []

        def show(draft: PlanDraft) -> None:
            own = get(draft)
            shown = [*choices] if not own or own in dict(choices) else [*choices, (own, Path(own).name)]
            values[:] = [value for value, _ in shown]
            with QSignalBlocker(box):
                box.clear()
                box.addItems([*(words for _, words in shown), *(file.words for file in files)])
                box.setCurrentIndex(values.index(own) if own else -1)

        def take(at: int) -> None:
            if at < len(values):
                self._edit(lambda draft: files[0].put(draft, values[at]))
                return
            file = files[at - len(values)]
            picked = file.pick()
            if picked:
                self._edit(lambda draft: file.put(draft, picked))
            else:
                show(self._shown)

        box.activated.connect(take)
        self._shows.append(show)
        return box


def _typed(text: str) -> float | None:
    """Return the number in a field; what is no number yet, such as a lone comma, is none."""
    try:
        return parse_number(text)
    except ValueError:
        return None


def named(widget: QWidget, label: str) -> QWidget:
    """Give a widget its label as its name for those who do not see it."""
    widget.setAccessibleName(label.replace("&", ""))
    return widget


def label_of(field: QWidget, text: str) -> QLabel:
    """Return the label of a field, which gets its name from it."""
    label = QLabel(text)
    label.setBuddy(named(field, text))
    label.setContentsMargins(0, 0, 2, 0)  # an underlined letter is set without kerning, but measured with it
    return label


def add_row(form: QGridLayout, label: str, field: QWidget, *beside: QWidget | str, over: bool = False) -> None:
    """Add a field with its label, and what belongs beside it: a unit, a button; a long label stands over the field."""
    shown = label_of(field, label)
    row = QHBoxLayout()
    row.setSpacing(6)
    row.addWidget(field, 1)
    for each in beside:
        row.addWidget(_unit(each) if isinstance(each, str) else each)
    at = form.rowCount()
    form.addWidget(shown, at, 0, 1, 2 if over else 1)
    form.addLayout(row, at + over, 1)


def add_whole(form: QGridLayout, widget: QWidget) -> None:
    """Add something that takes the whole width of a form."""
    form.addWidget(widget, form.rowCount(), 0, 1, 2)


def _unit(text: str) -> QLabel:
    label = QLabel(text)
    label.setObjectName("quiet")
    return label


def narrow(box: QComboBox) -> QComboBox:
    """Let a list of choices be narrower than its longest."""
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    box.setMinimumContentsLength(6)
    return box


def pick_file(kinds: str) -> str:
    """Ask the user for a file that is there."""
    return QFileDialog.getOpenFileName(None, "", "", kinds)[0]


def pick_new_file(start: str) -> str:
    """Ask the user for a file to write; whether it exists is said in the place."""
    return QFileDialog.getSaveFileName(None, "", start, "*.h5", options=QFileDialog.Option.DontConfirmOverwrite)[0]
