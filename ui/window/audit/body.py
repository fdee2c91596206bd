"""What an audit found: examiners above, charts and curves on the left below, sentences and faults on the right."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from acquire.values.units import ForceUnit
from analysis.audit.examiners import REJECTED
from analysis.reliability.retest import Reliability
from ui.model.audit.audit import AuditModel, Behind, BehindRead
from ui.model.audit.charts import funnel_of
from ui.model.audit.findings_text import day
from ui.model.audit.text import ShareRow, page, pair_line, pair_name, rows, sections, share_rows, study_about
from ui.model.theme import Theme
from ui.window.audit.behind import BehindView
from ui.window.audit.charts import AgreementView, CourseView, FunnelView
from ui.window.audit.pages import AuditPage
from ui.window.audit.tables import ExaminersTable, SharesTable
from ui.window.widgets.background import Background
from ui.window.widgets.pieces import panel
from ui.window.widgets.views import Views
from ui.words.words import Words

TABLE_SHARE = 0.32
"""Of the height, for the examiners."""

COURSES = (REJECTED, "ramp_time_s")


class AuditBody(QWidget):
    """What an audit found.

    Parameters
    ----------
    words, theme, unit
        Language, colours and unit of force.
    model : AuditModel
        What is shown.
    background : Background
        Where trials are read.
    say : callable
        Says in the window what went wrong.
    """

    def __init__(
        self,
        words: Words,
        theme: Theme,
        unit: ForceUnit,
        *,
        model: AuditModel,
        background: Background,
        say: Callable[[str], None],
    ) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self._model, self._background, self._say = model, background, say
        self._wanted: Behind | None = None
        self._share_rows: tuple[ShareRow, ...] = ()
        self._study = 0
        self._build()
        self._connect()

    @property
    def _studies(self) -> tuple[Reliability, ...]:
        return self._model.audit.agreement if self._model.audit else ()

    def press(self) -> None:
        """Look at the next curve where curves are looked at, else at the next examiner."""
        if self.charts.shown == "curves" and self.behind.read is not None and not self.table.hasFocus():
            self.behind.step(1)
            return
        self._model.next()
        self._show_order()
        self._show_examiner()

    def show_audit(self) -> None:
        """Show what was found anew."""
        audit, words = self._model.audit, self._words
        self.funnel.show_funnel(None if audit is None else funnel_of(audit))
        self.archive.show_sections(() if audit is None else sections(audit, words, self._unit))
        self._about_funnel.setText(words("audit.funnel.about" if self.funnel.has_points else "audit.funnel.nothing"))
        self._show_study(0)
        self._show_order()
        self._show_examiner()

    def set_font_size(self, pixels: int) -> None:
        """Set the font size of charts and curves."""
        for chart in (self.funnel, self.agreement, *self.courses.values()):
            chart.set_font_size(pixels)
        self.behind.set_font_size(pixels)
        self.table.take_font()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Keep the share of the height that the table has."""
        super().resizeEvent(event)
        self._above.setFixedHeight(round(TABLE_SHARE * self.height()))

    # what the user does

    def _choose(self, code: str) -> None:
        self._model.select(code)
        self._show_examiner()

    def _sort(self, column: str) -> None:
        self._model.sort(column)
        self._show_order()

    def _open_examiner(self) -> None:
        self._open(self._model.behind_share(REJECTED))

    def _open_share(self, index: int) -> None:
        row = self._share_rows[index]
        behind = self._model.behind_number if row.number else self._model.behind_share
        self._open(behind(row.key))

    def _open_session(self, name: str, index: int) -> None:
        course = self.courses[name].course
        if course is not None:
            self._open(self._model.behind_session(float(course.at_s[index])))

    def _open_pair(self, index: int) -> None:
        study = self._studies[self._study]
        person = self.agreement.person_at(index)
        self._open(self._model.behind_pair(study, person), pair_name(study, self._words))

    def _open(self, behind: Behind | None, whose: str = "") -> None:
        """Read trials again, and show their curves when they are there; nothing where there are none."""
        examiner = self._model.selected
        if behind is None or examiner is None:
            return
        named = whose or examiner.code
        self._wanted = behind
        self.behind.wait()
        self.charts.show_view("curves")
        self._background.do(
            lambda: self._model.read(behind),
            lambda read: self._show_behind(named, behind, read),
            lambda error: self._say(str(error)),
        )

    # what is shown

    def _show_order(self) -> None:
        selected = self._model.selected
        code = selected.code if selected else None
        self.table.show_rows(rows(self._model, self._words), order=self._model.order, selected=code)

    def _show_examiner(self) -> None:
        examiner = self._model.selected
        self._wanted = None
        self.behind.clear()
        self.funnel.select_code(examiner.code if examiner else None)
        self.page.show_page(page(examiner, self._words))
        self._share_rows = share_rows(examiner, self._words)
        self.shares.show_rows(self._share_rows)
        for name, view in self.courses.items():
            view.show_course(examiner.courses.get(name) if examiner and examiner.enough else None)
            self._about_courses[name].setText(
                self._words("audit.course.about" if view.course is not None else "audit.course.nothing")
            )

    def _show_session(self, name: str, index: int) -> None:
        course = self.courses[name].course
        if course is not None:
            told = {
                "day": day(float(course.at_s[index])),
                "value": self._words.number(float(course.value[index]), 1, signed=True),
            }
            self._about_courses[name].setText(self._words("audit.course.session", **told))

    def _show_study(self, index: int) -> None:
        """Show one study of agreement, by its number; it goes round."""
        self._study = index % max(1, len(self._studies))
        self.agreement.show_study(self._studies[self._study] if self._studies else None)
        self._about_study.setText(study_about(self._studies, self._study, self._words))

    def _show_person(self, index: int) -> None:
        study, person = self._studies[self._study], self.agreement.person_at(index)
        self._about_study.setText(pair_line(study, person, self._words, self._unit))

    def _show_behind(self, code: str, behind: Behind, read: BehindRead) -> None:
        """Show trials that were read, where nothing else was asked for meanwhile."""
        if self._wanted is not behind:
            return
        self.behind.show_read(code, behind, read)
        if self.isVisible():
            self.behind.setFocus()

    # layout

    def _build(self) -> None:
        words, theme = self._words, self._theme
        self.table, self.shares = ExaminersTable(words, theme), SharesTable(words, theme)
        self.funnel = FunnelView(words, theme)
        self.agreement = AgreementView(words, theme, self._unit)
        self.courses = {name: CourseView(words, theme, name) for name in COURSES}
        self.behind = BehindView(words, theme, self._unit)
        self.page = AuditPage(words, theme, words("audit.page"))
        self.archive = AuditPage(words, theme, words("audit.view.archive"))
        self._about_funnel, self._about_study = _about(), _about()
        self._about_courses = {name: _about() for name in COURSES}
        self.charts, self.said = Views(), Views()
        self.charts.add(
            "funnel",
            words("audit.view.funnel"),
            _with(self.funnel, self._about_funnel),
            tip=words("audit.view.funnel_tip"),
        )
        for name, view in self.courses.items():
            self.charts.add(
                name,
                words(f"audit.view.{name}"),
                _with(view, self._about_courses[name]),
                tip=words(f"audit.view.{name}_tip"),
            )
        self.charts.add(
            "agreement",
            words("audit.view.agreement"),
            _with(self.agreement, self._about_study),
            tip=words("audit.view.agreement_tip"),
        )
        self.charts.add("archive", words("audit.view.archive"), self.archive, tip=words("audit.view.archive_tip"))
        self.charts.add("curves", words("audit.view.curves"), self.behind, tip=words("audit.view.curves_tip"))
        self.said.add("words", words("audit.view.words"), self.page, tip=words("audit.view.words_tip"))
        self.said.add("shares", words("audit.view.shares"), self.shares, tip=words("audit.view.shares_tip"))
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(10)
        self._above = panel(self.table)
        grid.addWidget(self._above, 0, 0, 1, 2)
        grid.addWidget(panel(self.charts), 1, 0)
        grid.addWidget(panel(self.said), 1, 1)
        grid.setColumnStretch(0, 54)
        grid.setColumnStretch(1, 46)

    def _connect(self) -> None:
        self.table.chosen.connect(lambda row: self._choose(self._model.examiners[row].code))
        self.table.opened.connect(lambda _: self._open_examiner())
        self.table.sorted.connect(self._sort)
        for table in (self.table, self.shares):
            table.pressed.connect(self.press)
        self.shares.opened.connect(self._open_share)
        self.page.opened.connect(lambda: self._open(self._model.behind_ceiling()))
        self.funnel.chosen.connect(self._choose_point)
        self.funnel.opened.connect(lambda _: self._open_examiner())
        self.agreement.stepped.connect(lambda step: self._show_study(self._study + step))
        self.agreement.chosen.connect(self._show_person)
        self.agreement.opened.connect(self._open_pair)
        for name, view in self.courses.items():
            view.chosen.connect(lambda index, name=name: self._show_session(name, index))
            view.opened.connect(lambda index, name=name: self._open_session(name, index))

    def _choose_point(self, index: int) -> None:
        self._model.select(self.funnel.code_at(index))
        self._show_order()
        self._show_examiner()


def _about() -> QLabel:
    label = QLabel()
    label.setObjectName("quiet")
    label.setWordWrap(True)
    label.setAlignment(Qt.AlignmentFlag.AlignTop)
    return label


def _with(view: QWidget, about: QLabel) -> QWidget:
    """Return a view with a line above it."""
    both = QWidget()
    column = QVBoxLayout(both)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(2)
    column.addWidget(about)
    column.addWidget(view, 1)
    both.setFocusProxy(view)
    return both
