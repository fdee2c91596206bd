"""A sensor in range of `bluez.BlueZ`: what it is called, what it offers, and how it misbehaves."""

from dataclasses import dataclass, field

from dbus_fast import Variant

ADAPTER = "/org/bluez/hci0"
BATTERY = "0000180f-0000-1000-8000-00805f9b34fb"
LEVEL = "00002a19-0000-1000-8000-00805f9b34fb"


@dataclass
class Peer:
    """A sensor in range."""

    name: str
    service: str
    characteristic: str
    """What notifies."""
    address: str = "C0:FF:EE:00:00:01"
    rssi: int = -61
    commands: str = ""
    """The characteristic that takes what is written; the notifying one does where this is empty."""
    battery: int | bytes | None = None
    """The Battery Level in per cent, or the bytes that it reads as."""
    connect_s: float = 0.0
    aborts: int = 0
    """How many connections come up, fall at once, and fail."""
    refuse: str | tuple = ""
    """Name, or name and text, of the D-Bus error with which connections fail."""
    refuse_notify: str | tuple = ""
    refuse_write: str | tuple = ""
    written: list = field(default_factory=list)
    """The bytes of each write,"""
    written_to: list = field(default_factory=list)
    """and the characteristic."""
    connected: bool = False
    resolved: bool = False
    """Whether its services are known: from the first connection on."""
    advertising: bool = True
    att: object = None
    """The Bluetooth link below, where there is one (`att.AttSensor`)."""

    @property
    def path(self):
        return f"{ADAPTER}/dev_{self.address.replace(':', '_')}"

    @property
    def characteristic_path(self):
        return f"{self.path}/service0001/char0002"

    def uuid_of(self, path):
        """Return which characteristic an object is."""
        return self.services()[path]["org.bluez.GattCharacteristic1"]["UUID"].value

    def device(self):
        """Return the properties of the sensor itself."""
        return {
            "Address": Variant("s", self.address),
            "AddressType": Variant("s", "random"),
            # as the real one, which makes up a name from the address where a sensor tells none
            **({"Name": Variant("s", self.name)} if self.name else {}),
            "Alias": Variant("s", self.name or self.address.replace(":", "-")),
            "Adapter": Variant("o", ADAPTER),
            "Paired": Variant("b", False),
            "Connected": Variant("b", self.connected),
            "ServicesResolved": Variant("b", self.connected and self.resolved),
            "UUIDs": Variant("as", [self.service] + ([BATTERY] if self.battery is not None else [])),
            "RSSI": Variant("n", self.rssi),
        }

    def services(self):
        """Return the objects of its services and characteristics, by path."""
        notifying = (2, self.characteristic, ["notify"] if self.commands else ["notify", "write"])
        taking = [(3, self.commands, ["write"])] if self.commands else []
        objects = _service(self.path, 1, self.service, [notifying, *taking])
        if self.battery is not None:
            objects |= _service(self.path, 4, BATTERY, [(5, LEVEL, ["read"])])
        return objects


def _service(device, number, uuid, characteristics):
    path = f"{device}/service{number:04x}"
    about = {
        "UUID": Variant("s", uuid),
        "Device": Variant("o", device),
        "Primary": Variant("b", True),
        "Handle": Variant("q", number),
    }
    objects = {path: {"org.bluez.GattService1": about}}
    for handle, own, flags in characteristics:
        objects[f"{path}/char{handle:04x}"] = {
            "org.bluez.GattCharacteristic1": {
                "UUID": Variant("s", own),
                "Service": Variant("o", path),
                "Flags": Variant("as", flags),
                "Value": Variant("ay", b""),
                "MTU": Variant("q", 247),
                "Handle": Variant("q", handle),
                # its being there says that AcquireNotify can be called
                **({"NotifyAcquired": Variant("b", False)} if "notify" in flags else {}),
            }
        }
    return objects
