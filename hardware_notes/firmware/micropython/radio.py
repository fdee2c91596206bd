"""The radio: a service with one characteristic that notifies frames and is written commands to."""

import struct

import bluetooth

SERVICE = "7a1c5f4e-3d0b-4c86-9f27-51b8e0d9a6c2"
CHARACTERISTIC = "7a1c5f4e-3d0b-4c86-9f27-51b8e0d9a6c3"
"""Of this firmware; the profiles of the program name them. Make new ones for another kind of sensor."""

CONNECTED, DISCONNECTED, WRITTEN, MTU_EXCHANGED = 1, 2, 3, 21
ADVERTISE_US = 100_000
SMALLEST_MTU = 23
NOTIFICATION_OVERHEAD = 3
WRITE_ROOM = 64


class Radio:
    """One host at a time.

    Parameters
    ----------
    name : str
        What the host shows.
    on_data, on_lost : callable
        Told what a host has written, and that it has gone.
    """

    def __init__(self, name: str, on_data, on_lost) -> None:
        self._name = name
        self._on_data, self._on_lost = on_data, on_lost
        self._host = None
        self._mtu = SMALLEST_MTU
        self._ble = bluetooth.BLE()
        self._ble.active(True)
        self._ble.irq(self._happened)
        flags = bluetooth.FLAG_NOTIFY | bluetooth.FLAG_WRITE
        service = (bluetooth.UUID(SERVICE), ((bluetooth.UUID(CHARACTERISTIC), flags),))
        ((self._handle,),) = self._ble.gatts_register_services((service,))
        self._ble.gatts_set_buffer(self._handle, WRITE_ROOM)
        self._advertise()

    def send(self, frame: bytes) -> None:
        """Notify a frame; a line longer than a notification goes over several. What finds no room is lost."""
        if self._host is None:
            return
        size = self._mtu - NOTIFICATION_OVERHEAD
        try:
            for at in range(0, len(frame), size):
                self._ble.gatts_notify(self._host, self._handle, frame[at : at + size])
        except OSError:
            pass  # the number of the next packet tells

    def _advertise(self) -> None:
        # Flags and service in the packet, the name in what is sent when a host asks: 31 bytes each.
        uuid = bytes(reversed(bytes.fromhex(SERVICE.replace("-", ""))))
        packet = _field(0x01, b"\x06") + _field(0x07, uuid)
        self._ble.gap_advertise(ADVERTISE_US, adv_data=packet, resp_data=_field(0x09, self._name.encode()))

    def _happened(self, event: int, data: tuple) -> None:
        if event == CONNECTED:
            self._host, self._mtu = data[0], SMALLEST_MTU
        elif event == DISCONNECTED:
            self._host = None
            self._on_lost()
            self._advertise()
        elif event == WRITTEN:
            self._on_data(self._ble.gatts_read(self._handle))
        elif event == MTU_EXCHANGED:
            self._mtu = data[1]


def _field(kind: int, value: bytes) -> bytes:
    """Return one field of an advertisement (Core Specification Supplement, part A)."""
    return struct.pack("BB", len(value) + 1, kind) + value
