"""The curves: aligned at the onset, marks named where they belong, nothing on top of another."""

import itertools

import numpy as np
import pytest
from PyQt6.QtCore import QPoint, QPointF, Qt
from PyQt6.QtGui import QColor, QWheelEvent
from PyQt6.QtWidgets import QApplication

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.units import ForceUnit
from analysis.stored.traces import newtons_trial
from analysis.trial.judged_trial import judge_trial
from analysis.trial.protocol import load_protocol
from ui.model.review.marks import Curve, Mark, curve_of
from ui.model.theme import DARK, LIGHT
from ui.window.review.curves import CurvesView, Overlaid
from ui.window.widgets.style import apply_style
from ui.words.words import Words


def curve(code="good"):
    trace = simulate(FAULTY.get(code, GOOD), rate_hz=1000.0, seed=2).trace
    there = ~np.isnan(trace.force)
    return curve_of(judge_trial(newtons_trial(trace.time[there], trace.force[there]), load_protocol()))


@pytest.fixture
def shown(qtbot, qapp):
    """Show curves in a window of their own."""

    def make(selected, overlaid=(), *, theme=LIGHT, unit=ForceUnit.NEWTON, size=(780, 380)):
        apply_style(qapp, theme)
        view = CurvesView(Words("en"), theme, unit)
        qtbot.addWidget(view)
        view.resize(*size)
        view.set_font_size(14)
        view.show()
        qtbot.waitExposed(view)
        view.show_curves(selected, overlaid)
        return view

    return make


def drawn(view, place=-1):
    return view._lines[place][1].getData()


def test_selected_curve_is_drawn_from_its_onset(shown):
    view = shown(curve())
    x, y = drawn(view)
    assert x.min() < 0.0 < x.max()
    assert np.nanmax(y) > 100.0
    assert abs(np.nanmax(y[x < 0.0])) < 10.0


@pytest.mark.parametrize("unit", ForceUnit)
def test_forces_are_drawn_in_the_unit_that_was_chosen(shown, unit):
    one = curve()
    _, y = drawn(shown(one, unit=unit))
    assert np.nanmax(y) == pytest.approx(one.force.max() / unit.newtons)


def test_long_trace_is_thinned_and_keeps_its_peak(shown):
    time = np.arange(600_000) / 10_000.0
    force = np.zeros(600_000)
    force[300_000] = 444.0
    view = shown(Curve(time=time, force=force, span=(0.0, 60.0)))
    _, y = drawn(view)
    assert len(y) < 4000
    assert y.max() == 444.0


def test_gap_stays_a_gap(shown):
    _, y = drawn(shown(curve("lost-samples")))
    assert np.isnan(y).any()


def test_parts_are_named_under_the_curve(shown):
    view = shown(curve())
    ramp, hold = view.placed_parts()
    assert ramp.name.startswith("ramp 1.")
    assert hold.name.startswith("hold 5.")
    assert ramp.left < ramp.right <= hold.left + 1.0 < hold.right
    assert ramp.line > view._y(0.0)


@pytest.mark.parametrize("code", list(FAULTY))
@pytest.mark.parametrize("size", [(420, 240), (780, 380), (1250, 640)])
def test_names_of_faults_are_in_the_picture_and_on_nothing_else(shown, code, size):
    view = shown(curve(code), size=size)
    placed, area = view.placed_faults(), view._area()
    for one in placed:
        assert one.text.left() >= area.left() - 0.5
        assert one.text.right() <= area.right() + 0.5
        assert area.top() - 0.5 <= one.text.top()
        assert one.name.startswith(("\u2717 ", "! "))
    for one, other in itertools.combinations(placed, 2):
        assert not one.text.intersects(other.text)


@pytest.mark.parametrize("code", ["shake", "examiner-pushed", "gave-way", "preload", "overshoot"])
def test_curve_stays_below_the_names_of_its_faults(shown, code):
    view = shown(curve(code))
    lowest = max(one.line for one in view.placed_faults())
    assert view._y(float(np.nanmax(view._selected.force))) > lowest


def test_bracket_lies_where_the_fault_shows(shown):
    one = curve("fast-ramp")
    view = shown(one)
    (placed,) = [each for each in view.placed_faults() if each.mark.name == "fast-ramp"]
    assert placed.name == "\u2717 ramp too fast"
    assert placed.left == pytest.approx(view._x(placed.mark.start))
    assert placed.right == pytest.approx(view._x(placed.mark.stop))


def test_fault_of_a_moment_can_still_be_seen(shown):
    (placed,) = [each for each in shown(curve("overshoot")).placed_faults() if each.mark.name == "overshoot"]
    assert placed.right - placed.left >= 12.0


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
def test_marks_are_painted(shown, theme):
    view = shown(curve("fast-ramp"), theme=theme)
    image = view.grab().toImage()
    (placed,) = [each for each in view.placed_faults() if each.mark.name == "fast-ramp"]
    origin = view.viewport().pos()
    bracket = [
        image.pixelColor(int(x) + origin.x(), round(placed.line) + origin.y() + dy)
        for x in np.linspace(placed.left + 2, placed.right - 2, 9)
        for dy in (-1, 0)
    ]
    wanted = QColor(theme.bad)
    assert any(abs(one.red() - wanted.red()) + abs(one.green() - wanted.green()) < 90 for one in bracket)


def test_curves_below_are_thin_and_those_set_aside_dashed(shown):
    below = [Overlaid(name="2", curve=curve(), dashed=False), Overlaid(name="3", curve=curve(), dashed=True)]
    view = shown(curve(), below)
    pens = [line.opts["pen"] for _, line in view._lines]
    assert [pen.widthF() for pen in pens] == [1.0, 1.0, 2.0]
    assert pens[1].style() is Qt.PenStyle.DashLine


def test_showing_others_takes_the_old_ones_away(shown):
    view = shown(curve(), [Overlaid(name="2", curve=curve(), dashed=False)])
    view.show_curves(curve("fast-ramp"))
    assert len(view._lines) == 1
    view.show_curves(None)
    assert view._lines == []
    assert view.placed_faults() == view.placed_parts() == []
    view.grab()


def test_keys_go_nearer_farther_and_along(shown, qtbot):
    view = shown(curve())
    whole = view._box.viewRange()[0]

    def width():
        start, stop = view._box.viewRange()[0]
        return stop - start

    qtbot.keyClick(view, Qt.Key.Key_Plus)
    assert width() == pytest.approx((whole[1] - whole[0]) / 1.25)
    start = view._box.viewRange()[0][0]
    qtbot.keyClick(view, Qt.Key.Key_Right)
    assert view._box.viewRange()[0][0] > start
    qtbot.keyClick(view, Qt.Key.Key_Left)
    assert view._box.viewRange()[0][0] == pytest.approx(start)
    qtbot.keyClick(view, Qt.Key.Key_Minus)
    qtbot.keyClick(view, Qt.Key.Key_Minus)
    assert width() == pytest.approx(1.25 * (whole[1] - whole[0]))
    qtbot.keyClick(view, Qt.Key.Key_0)
    assert view._box.viewRange()[0] == pytest.approx(whole)


def test_going_nearer_shows_more_points_of_the_part(shown):
    time = np.arange(100_000) / 1000.0
    view = shown(Curve(time=time, force=np.sin(time * 50.0), span=(0.0, 100.0)))
    view._box.setXRange(10.0, 10.2, padding=0.0)
    x, _ = drawn(view)
    assert x[0] == pytest.approx(10.0, abs=0.002)
    assert np.diff(x).max() == pytest.approx(0.001)


def test_scale_follows_the_size(shown):
    view = shown(curve("shake"))
    before = view._box.viewRange()[1]
    view.resize(780, 640)
    assert view._box.viewRange()[1] != before
    lowest = max(one.line for one in view.placed_faults())
    assert view._y(float(np.nanmax(view._selected.force))) > lowest


def test_trace_of_rest_is_drawn_without_marks(shown):
    view = shown(curve("no-effort"))
    assert view.placed_faults() == view.placed_parts() == []
    assert len(drawn(view)[0]) > 10
    view.grab()


def test_trace_too_short_to_judge_is_drawn(shown):
    view = shown(Curve(time=np.arange(3.0), force=np.array([1.0, 2.0, 1.0]), span=(0.0, 2.0)))
    assert drawn(view)[1].tolist() == [1.0, 2.0, 1.0]


@pytest.mark.slow
def test_mark_beyond_what_is_shown_does_no_harm(shown):
    far = Mark(name="jerk", start=50.0, stop=60.0, rejects=True)
    view = shown(Curve(time=np.arange(3.0), force=np.ones(3), faults=(far,), span=(0.0, 2.0)))
    view.grab()


def test_force_is_zoomed_by_keys_and_stays_while_the_time_is_gone_along(shown, qtbot):
    view = shown(curve())
    framed = view._box.viewRange()[1]
    qtbot.keyClick(view, Qt.Key.Key_PageUp)
    low, high = view._box.viewRange()[1]
    assert high - low == pytest.approx((framed[1] - framed[0]) / 1.25)
    qtbot.keyClick(view, Qt.Key.Key_Up)
    assert view._box.viewRange()[1][0] > low
    chosen = view._box.viewRange()[1]
    qtbot.keyClick(view, Qt.Key.Key_Right)
    assert view._box.viewRange()[1] == pytest.approx(chosen)
    assert view.whole.isVisible()
    qtbot.keyClick(view, Qt.Key.Key_0)
    assert view._box.viewRange()[1] == pytest.approx(framed)
    assert not view.whole.isVisible()


def test_wheel_zooms_time_and_force(shown):
    view = shown(curve())
    (start, stop), (low, high) = view._box.viewRange()
    centre = QPointF(view._area().center())
    where, turn = view.viewport().mapToGlobal(centre), QPoint(0, 240)
    none = Qt.KeyboardModifier.NoModifier
    wheel = QWheelEvent(
        centre, where, QPoint(), turn, Qt.MouseButton.NoButton, none, Qt.ScrollPhase.NoScrollPhase, False
    )
    QApplication.sendEvent(view.viewport(), wheel)
    (first, last), (least, most) = view._box.viewRange()
    assert last - first < stop - start
    assert most - least < high - low
    view.whole.click()
    assert view._box.viewRange()[0] == pytest.approx([start, stop])


def test_names_follow_what_is_in_view(shown):
    view = shown(curve("fast-ramp"))
    hold = view._selected.phases[1]
    view._box.setXRange(hold.start + 1.0, hold.stop - 1.0, padding=0.0)
    (placed,) = view.placed_parts()  # the ramp is out of view
    area = view._area()
    assert placed.mark.name == "hold"
    assert area.left() <= placed.text.left() < placed.text.right() <= area.right()
    assert placed.text.center().x() == pytest.approx(area.center().x(), abs=2.0)
    assert view.placed_faults() == []
    view.grab()
