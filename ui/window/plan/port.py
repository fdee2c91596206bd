"""Where the sensor is: a list of what there is, and a field to type what there is not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import QSignalBlocker, Qt
from PyQt6.QtWidgets import QComboBox

from acquire.links.ports import PortInfo
from ui.model.plan.bluetooth_profile import called, sensor_for, titled
from ui.model.plan.found_sensor import port_details, port_words
from ui.window.widgets.fields import narrow
from ui.words.bluetooth_text import signal_text
from ui.words.words import Words

if TYPE_CHECKING:
    from acquire.links.bluetooth_search import BluetoothSensor

Ports = Callable[[], Sequence[PortInfo]]


class PortBox(QComboBox):
    """The simulated sensor, the ports there are, the Bluetooth sensors heard, and whatever the user types."""

    def __init__(self, words: Words, ports: Ports) -> None:
        super().__init__()
        self._words = words
        self._simulated = words("plan.port_simulated")
        self._ports = ports
        self._devices: list[str | None] = []
        self._bluetooth: Sequence[BluetoothSensor] = ()
        narrow(self).setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        field = self.lineEdit()
        if field is not None:
            field.setPlaceholderText(words("plan.port_hint"))
            field.setStyleSheet("border: none; padding: 0; background: transparent;")  # the list has its own frame
        self.look()

    def look(self) -> None:
        """Look again which ports there are; what is chosen stays."""
        before = self.port if self._devices else None
        found = self._ports()
        self._devices = [
            None,
            *(port.device for port in found),
            *(called(sensor, self._bluetooth) for sensor in self._bluetooth),
        ]
        with QSignalBlocker(self):
            self.clear()
            self.addItem(self._simulated)
            for port in found:
                self.addItem(port_words(port, self._words))
                self.setItemData(self.count() - 1, port_details(port), Qt.ItemDataRole.ToolTipRole)
            self.addItems([self._in_words(sensor) for sensor in self._bluetooth])
        view = self.view()
        if view is not None:  # what does not fit into the field does in the list
            view.setMinimumWidth(view.sizeHintForColumn(0) + 2 * self.fontMetrics().height())
        self.show_port(before)

    def show_bluetooth(self, sensors: Sequence[BluetoothSensor]) -> None:
        """Show the Bluetooth sensors in range, after the ports."""
        self._bluetooth = sensors
        self.look()

    def is_gone(self, port: str | None) -> bool:
        """Tell whether a port was there or in range, and is no more."""
        return port is not None and port not in self._devices and not Path(port).exists()

    def is_bluetooth(self, port: str | None) -> bool:
        """Tell whether a port is a Bluetooth sensor in range."""
        return any(called(sensor, self._bluetooth) == port for sensor in self._bluetooth)

    def profile_over_bluetooth(self, chosen: str) -> str:
        """Return the profile of the Bluetooth sensor that is chosen; empty for others, and where none fits.

        Parameters
        ----------
        chosen : str
            The profile that is taken where it fits: several may.
        """
        sensor = next((sensor for sensor in self._bluetooth if called(sensor, self._bluetooth) == self.port), None)
        return sensor_for(sensor, chosen) if sensor else ""

    def _in_words(self, sensor: BluetoothSensor) -> str:
        signal = signal_text(sensor.signal_dbm, self._words)
        return self._words("plan.port_radio", name=titled(sensor, self._bluetooth), signal=signal)

    @property
    def port(self) -> str | None:
        """The port that is chosen or typed; None for the simulated sensor."""
        text = self.currentText().strip()
        at = self.findText(text) if text else -1
        return self._devices[at] if at >= 0 else text

    def show_port(self, port: str | None) -> None:
        """Show a port; one that is not plugged in now is shown as it is called."""
        if port == self.port:
            return
        with QSignalBlocker(self):
            if port in self._devices:
                self.setCurrentIndex(self._devices.index(port))
            else:
                self.setCurrentIndex(-1)
                self.setEditText(port or "")
        field = self.lineEdit()
        if field is not None:
            field.setCursorPosition(0)
