"""Sensor, calibration and file in the place Plan, and the examiner's limit that is measured with it."""

import datetime as dt
import threading

import pytest
from msgspec.structs import replace
from planned import DOWN, NOW, PORTS, SPACE, typed
from PyQt6.QtCore import QEvent, QObject, Qt

from acquire.errors import LinkError, LinkFailure
from acquire.links.bluetooth_search import BluetoothSensor
from acquire.sensor.calibration_file import save_calibration
from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import GOOD
from acquire.values.calibration import Calibration
from acquire.values.units import ForceUnit
from ui.session.open_sensor import open_sensor
from ui.window.plan import limit as plan_limit
from ui.window.plan.bluetooth import BluetoothSearch
from ui.words.words import Words, languages

# sensor, calibration, file


def test_port_is_chosen_or_typed_and_the_sensor_with_it(qtbot, place):
    assert place.draft.sensor == "simulated"
    assert not place.sensor.sensor.isEnabled()
    port = place.sensor.port
    port.setFocus()
    typed(qtbot, DOWN)
    assert (place.draft.port, place.draft.sensor) == ("/dev/ttyACM7", "")
    assert place.sensor.sensor.isEnabled()
    place.sensor.sensor.setFocus()
    typed(qtbot, DOWN)
    assert place.draft.sensor == "ble-lines"
    port.setFocus()
    port.lineEdit().selectAll()
    typed(qtbot, "/dev/pts/3")
    assert (place.draft.port, place.draft.sensor) == ("/dev/pts/3", "ble-lines")
    port.setCurrentIndex(0)
    assert (place.draft.port, place.draft.sensor) == (None, "simulated")
    port.setCurrentIndex(2)
    assert (place.draft.port, place.draft.sensor) == ("COM3", "ble-lines")


def test_ports_are_looked_for_again(qtbot, placed):
    found = []
    place = placed(ports=lambda: tuple(found))
    assert place.sensor.port.count() == 1
    found += PORTS
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    assert place.sensor.port.count() == 3
    assert place.draft.port is None
    place.sensor.port.setCurrentIndex(2)
    found.clear()
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    assert (place.draft.port, place.sensor.port.currentText()) == ("COM3", "COM3")


def test_bluetooth_sensor_in_reach_is_chosen_with_the_profile_of_its_service(qtbot, placed):
    service = load_profile("ble-packets").service
    heard = BluetoothSensor(name="Grip-01", address="C0:FF:EE:00:00:01", signal_dbm=-61, services=(service,))
    place = placed(ports=tuple, listen=lambda: (heard,))
    place.edit(lambda draft: replace(draft, port="COM3", sensor="bridge-80"))
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: place.sensor.port.count() == 2)
    assert "1" in place.sensor.bluetooth.text()
    assert place.draft.port == "COM3"
    place.sensor.port.setCurrentIndex(1)
    assert (place.draft.port, place.draft.sensor) == ("Grip-01", "ble-packets")
    place.sensor.port.setCurrentIndex(0)
    assert (place.draft.port, place.draft.sensor) == (None, "simulated")


@pytest.mark.parametrize("nobody", [True, False])
def test_window_closed_while_it_listens_is_told_nothing(qapp, nobody):
    """What a thread ends with then would fail the test."""
    began, go_on = threading.Event(), threading.Event()

    def listen():
        began.set()
        assert go_on.wait(10.0)
        if nobody:
            raise LinkError("no bus", port="Bluetooth", reason=LinkFailure.NO_BLUETOOTH)
        return ()

    parent = QObject()
    search = BluetoothSearch(listen, parent)
    search.start()
    assert began.wait(10.0)
    thread = search._listening
    parent.deleteLater()
    qapp.sendPostedEvents(parent, QEvent.Type.DeferredDelete.value)
    go_on.set()
    thread.join(10.0)
    assert not thread.is_alive()


def test_machine_without_bluetooth_is_told_in_words(qtbot, placed):
    def listen():
        raise LinkError("no bus", port="Bluetooth", reason=LinkFailure.NO_BLUETOOTH)

    place = placed(ports=tuple, listen=listen)
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "Bluetooth" in place.sensor.bluetooth.text())


@pytest.mark.parametrize("language", languages())
def test_calibration_is_told_in_words_and_weight(placed, tmp_path, language):
    place, statement = placed(language), None
    file = tmp_path / "cal.toml"
    place.edit(lambda draft: replace(draft, port="COM3", sensor="bridge-80"))
    statement = place.sensor.statement
    assert statement.text().startswith("! ")
    assert statement.font().bold()
    save_calibration(file, Calibration(newtons_per_count=1 / 8400.0, date=NOW.date()))
    place.edit(lambda draft: replace(draft, calibration=str(file)))
    assert statement.text().startswith("\u2713 ")
    assert Words(language).day(dt.date(2026, 3, 2)) in statement.text()
    assert not statement.font().bold()
    save_calibration(file, Calibration(newtons_per_count=1 / 8400.0, date=dt.date(2020, 1, 1)))
    place.edit(lambda draft: draft)
    assert statement.text().startswith("! ")
    assert statement.font().bold()


def test_calibration_is_picked(placed):
    place = placed(pick=lambda _: "/a/cal.toml", pick_new=lambda _: "/a/new.h5")
    place.edit(lambda draft: replace(draft, port="COM3", sensor="bridge-80"))
    place.sensor.find_calibration.click()
    place.sensor.find_out.click()
    assert (place.draft.calibration, place.draft.out) == ("/a/cal.toml", "/a/new.h5")


def test_file_follows_the_code_until_another_is_typed(qtbot, place):
    place.setFocus()
    typed(qtbot, "P-1")
    assert place.draft.out.endswith("ramphold/P-1_2026-03-02_0905.h5")
    place.sensor.out.setFocus()
    place.sensor.out.selectAll()
    typed(qtbot, "my.h5")
    place.who.code.setFocus()
    typed(qtbot, "2")
    assert place.draft.out == "my.h5"


def test_unit_and_language_are_told_to_the_window(qtbot, place):
    place.edit(lambda draft: replace(draft, examiner_limit_n=98.0665))
    with qtbot.waitSignal(place.switched) as switched:
        place.sensor.unit.setFocus()
        typed(qtbot, DOWN)
    assert switched.args[0].unit is ForceUnit.KILOGRAM_FORCE
    assert place.who.limit.text() == "10"
    with qtbot.waitSignal(place.switched) as switched:
        place.sensor.language.setFocus()
        typed(qtbot, DOWN)
    assert switched.args[0].language == "de"


# measuring the examiner's limit


def test_limit_is_measured_with_the_simulated_sensor(qtbot, place, monkeypatch):
    def fast(draft, _):
        return open_sensor(draft.sensor, port=draft.port, calibration=None, speed=20.0, efforts=(GOOD,))

    monkeypatch.setattr(place._limit, "_open", fast)
    place.who.measure.setFocus()
    typed(qtbot, SPACE)
    assert place.who.measure.text() == "Stop"
    qtbot.waitUntil(lambda: not place._limit.running, timeout=20_000)
    assert place.draft.examiner_limit_n == pytest.approx(GOOD.plateau_n, rel=0.03)
    assert place.draft.limit_measured
    assert place.who.holding.text() == "Measured."
    assert place.who.measure.text() == "Meas&ure"


def test_sensor_is_let_go_of_when_the_measuring_stops(place):
    place.who.measure.click()
    assert place._limit.running
    place.who.measure.click()
    assert not place._limit.running
    place.who.measure.click()
    place.hide()
    assert not place._limit.running
    assert place.draft.examiner_limit_n is None


def test_sensor_that_is_not_there_is_said(place):
    place.edit(lambda draft: replace(draft, port="/dev/nowhere", sensor="bridge-80"))
    place.who.measure.click()
    assert place.who.holding.text() == Words("en")("trouble.not_found", port="/dev/nowhere")
    assert not place._limit.running
    assert place.who.measure.text() == "Meas&ure"


class Gone:
    """A watch on a sensor that is gone."""

    def __init__(self, _):
        self.closed = False

    def fresh(self):
        raise LinkError("the sensor was unplugged", port="COM3", reason=LinkFailure.UNPLUGGED)

    def close(self):
        self.closed = True


def test_sensor_that_goes_away_ends_the_measuring(qtbot, place, monkeypatch):
    monkeypatch.setattr(plan_limit, "ForceWatch", Gone)
    monkeypatch.setattr(place._limit, "_open", lambda draft, _: draft)
    place.who.measure.click()
    qtbot.waitUntil(lambda: not place._limit.running)
    assert place.who.holding.text() == Words("en")("trouble.unplugged")
    assert place.draft.examiner_limit_n is None
