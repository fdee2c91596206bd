"""Everything works by keyboard: the tab key reaches every control of every place, and each has a name to be heard."""

from datetime import UTC, datetime

import numpy as np
import pytest
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QGraphicsView,
    QLineEdit,
    QPushButton,
    QSplitterHandle,
    QTextBrowser,
)

from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import GOOD, simulate
from acquire.values.records import Session, SessionContext, Trial, TrialContext
from analysis.trial.protocol import load_protocol
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK
from ui.session.store import SessionStore
from ui.window import app
from ui.window.main_window import PLACES
from ui.window.stage.sound import Sound

CONTROLS = (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QComboBox,
    QGraphicsView,
    QLineEdit,
    QSplitterHandle,
    QTextBrowser,
)
MOST = 120


def one_trial(path):
    """Write a session of one trial; return its path."""
    profile = load_profile("simulated")
    trial = Trial(
        time=(trace := simulate(GOOD, rate_hz=1000.0, seed=2).trace).time,
        counts=np.rint(trace.force * profile.counts_per_newton).astype(np.int32),
        calibration=profile.nominal_calibration(),
        zero_counts=0.0,
        context=TrialContext(action="knee-extension", side="left"),
    )
    started = datetime(2026, 3, 2, tzinfo=UTC)
    store = SessionStore(path, Session(context=SessionContext(session="a", started=started)), load_protocol())
    store.add(trial)
    return path


@pytest.fixture(scope="module")
def window(qapp, tmp_path_factory):
    """Show the window with a session open in Review."""
    folder = tmp_path_factory.mktemp("keyboard")
    patch = pytest.MonkeyPatch()
    patch.setattr(app, "Sound", lambda words: Sound(words, volume=0.0))
    shown = app.build_window(Remembered(folder / "r.json"), DARK, draft=PlanDraft(out=str(folder / "new.h5")))
    shown.resize(1900, 1000)
    shown.show()
    shown.activateWindow()
    qapp.processEvents()
    shown.review.open_path(one_trial(folder / "one.h5"))
    yield shown
    shown.close()
    patch.undo()


def controls(place):
    """Return what can be pressed, typed into, chosen from or gone along in a place, as it is now."""
    found = [widget for kind in CONTROLS for widget in place.findChildren(kind)]
    return [
        widget
        for widget in found
        if widget.isVisible()
        and widget.isEnabled()
        and (widget.focusPolicy() != Qt.FocusPolicy.NoFocus or isinstance(widget, QPushButton))
        and widget.focusProxy() is None
        and not isinstance(widget.parent(), QAbstractSpinBox | QComboBox)
    ]


def walked(window, qtbot):
    """Press the tab key until the focus comes round, and return what had it."""
    reached = []
    for _ in range(MOST):
        focus = QApplication.focusWidget()
        if focus in reached:
            break
        reached.append(focus)
        qtbot.keyClick(focus or window, Qt.Key.Key_Tab)
    return reached


@pytest.mark.parametrize("name", PLACES)
def test_tab_reaches_every_control_and_each_has_a_name(window, qtbot, name):
    window.go(name)
    qtbot.waitUntil(lambda: not window.review.busy)
    place = getattr(window, name)
    reached = set(walked(window, qtbot))
    wanted = controls(place)
    assert name == "test" or wanted
    assert [described(widget) for widget in wanted if widget not in reached] == []
    unnamed = [widget for widget in wanted if not (widget.accessibleName() or getattr(widget, "text", str)())]
    assert [described(widget) for widget in unnamed] == []


def described(widget):
    text = widget.text() if isinstance(widget, QAbstractButton) else ""
    return f"{type(widget).__name__} {widget.accessibleName() or text} in {type(widget.parent()).__name__}"


def test_curves_and_charts_are_told_in_words(window):
    review, audit = window.review, window.audit
    assert review.curves.accessibleDescription().startswith("Trial 1, Knee extension, left: accepted. Plateau 247.")
    for chart in (audit.body.funnel, audit.body.agreement, *audit.body.courses.values()):
        assert chart.accessibleName()
        assert chart.accessibleDescription()
