"""A Bluetooth service without a radio: `org.bluez` on a private bus, so that bleak's own Linux code runs unchanged.

`PrivateBus` starts a `dbus-daemon`, and `BlueZ` is the service on it, in a thread of its own, with one adapter and the
sensors that a test puts in reach. It keeps the rules of the real service that a driver can trip over (seen with the
real one):

- notify sessions belong to a D-Bus connection; one that is not closed after a drop goes on, and then each sample comes
  twice;
- sensors are told again each 100 ms while somebody scans, since a scanner may begin to listen after the first time;
- a service that dies says nothing to its clients.
"""

import asyncio
import contextlib
import os
import socket
import subprocess
import tempfile
import threading
from dataclasses import dataclass, field
from pathlib import Path

from dbus_fast import BusType, Message, MessageType, Variant
from dbus_fast.aio import MessageBus

VARIABLE = "DBUS_SYSTEM_BUS_ADDRESS"
ADAPTER = "/org/bluez/hci0"
BATTERY = "0000180f-0000-1000-8000-00805f9b34fb"
LEVEL = "00002a19-0000-1000-8000-00805f9b34fb"
ADVERTISE_S = 0.1
CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><type>system</type><listen>unix:path={socket}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow user="*"/><allow own="*"/><allow send_type="method_call"/>
<allow send_type="signal"/><allow send_type="method_return"/><allow send_type="error"/>
<allow receive_type="method_call"/><allow receive_type="signal"/><allow receive_type="method_return"/>
<allow receive_type="error"/></policy></busconfig>"""


class PrivateBus:
    """A system bus of the test's own."""

    def __init__(self, folder):
        self.socket = Path(folder) / "bus"
        self.address = f"unix:path={self.socket}"
        config = Path(folder) / "bus.conf"
        config.write_text(CONFIG.format(socket=self.socket))
        self._daemon = subprocess.Popen(
            ["dbus-daemon", f"--config-file={config}", "--nofork", "--print-address"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # it says that it may not raise a limit
        )
        assert self._daemon.stdout.readline().strip(), "the private bus did not start"

    def close(self):
        """End the bus, as when the system goes down."""
        self._daemon.kill()
        self._daemon.wait()
        self._daemon.stdout.close()


@dataclass
class Peer:
    """A sensor in reach."""

    name: str
    service: str
    characteristic: str
    address: str = "C0:FF:EE:00:00:01"
    rssi: int = -61
    battery: int | None = None
    connect_s: float = 0.0
    refuse: str = ""
    """The D-Bus error with which the next connections fail."""
    refuse_notify: str = ""
    """The D-Bus error with which a subscription fails."""
    written: list = field(default_factory=list)
    """What was written to the characteristic."""
    connected: bool = False
    advertising: bool = True
    att: object = None
    """The radio link below, where there is one (`att.AttSensor`)."""

    @property
    def path(self):
        return f"{ADAPTER}/dev_{self.address.replace(':', '_')}"

    @property
    def characteristic_path(self):
        return f"{self.path}/service0001/char0002"


class Air:
    """A private bus and the service on it; the program's own Bluetooth code finds both."""

    def __init__(self):
        self._folder = tempfile.TemporaryDirectory(prefix="bus-")
        self._before = os.environ.get(VARIABLE)
        self.bus = PrivateBus(self._folder.name)
        os.environ[VARIABLE] = self.bus.address
        self.bluez = BlueZ(self.bus.address)

    def close(self):
        """End both, and forget the bus."""
        self.bluez.close()
        self.bus.close()
        if self._before is None:
            del os.environ[VARIABLE]
        else:
            os.environ[VARIABLE] = self._before
        self._folder.cleanup()


class BlueZ:
    """The service; what a test does to it is done in its thread and awaited."""

    def __init__(self, address):
        self.peers = {}
        self.powered = True
        self.denied = False
        self.notifying = {}
        """Sessions: the path of a characteristic to the D-Bus names that listen."""
        self.sockets = {}
        """Sessions by AcquireNotify: the path to our end of the socket."""
        self._address = address
        self._scanning = set()
        self._tasks = set()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()), daemon=True)
        self._thread.start()
        assert self._ready.wait(10)

    # what tests do

    def add(self, peer):
        """Put a sensor in reach."""
        self._do(self._add, peer)
        return peer

    def notify(self, peer, *values):
        """Let a sensor notify values, as fast as the bus takes them."""
        self._do(self._notify, peer, values)

    def play(self, peer, values, period_s, per_tick=1):
        """Let a sensor notify values at a pace, and return a future of the end."""
        return asyncio.run_coroutine_threadsafe(self._play(peer, values, period_s, per_tick), self._loop)

    def drop(self, peer):
        """Let a sensor break the connection."""
        self._do(self._drop, peer)

    def run(self, coroutine):
        """Run something in the service's loop, and return a future of the end."""
        return asyncio.run_coroutine_threadsafe(coroutine, self._loop)

    def sessions(self, peer):
        """Return how many connections listen to a sensor."""
        return len(self.notifying.get(peer.characteristic_path, ()))

    def power(self, on):
        """Switch the adapter."""
        self.powered = on
        self._do(self._changed, ADAPTER, "org.bluez.Adapter1", {"Powered": Variant("b", on)})

    def close(self):
        """Die without a word."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)
            self._thread.join()

    # the service

    def _do(self, what, *arguments):
        async def done():
            what(*arguments)

        asyncio.run_coroutine_threadsafe(done(), self._loop).result(10)

    async def _serve(self):
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        self._bus = MessageBus(bus_address=self._address, bus_type=BusType.SYSTEM, negotiate_unix_fd=True)
        await self._bus.connect()
        self._bus.add_message_handler(self._handle)
        await self._bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member="AddMatch",
                signature="s",
                body=["type='signal',member='NameOwnerChanged'"],
            )
        )
        await self._bus.request_name("org.bluez")
        self._ready.set()
        repeating = asyncio.create_task(self._advertise())
        await self._stop.wait()
        repeating.cancel()
        self._bus.disconnect()

    async def _advertise(self):
        while True:
            await asyncio.sleep(ADVERTISE_S)
            for peer in self.peers.values():
                if self._scanning and peer.advertising and not peer.connected:
                    self._changed(peer.path, "org.bluez.Device1", {"RSSI": Variant("n", peer.rssi)})

    async def _play(self, peer, values, period_s, per_tick):
        began = self._loop.time()
        for number in range(0, len(values), per_tick):
            wait = began + number * period_s - self._loop.time()
            if wait > 0:
                await asyncio.sleep(wait)
            self._notify(peer, values[number : number + per_tick])

    def _handle(self, message):
        if message.message_type is MessageType.SIGNAL:
            if message.member == "NameOwnerChanged" and not message.body[2]:
                self._left(message.body[0])
            return None
        if message.message_type is not MessageType.METHOD_CALL:
            return None
        name = f"_{message.member}"
        if message.destination == "org.bluez" and hasattr(self, name):
            return getattr(self, name)(message)
        return None

    def _left(self, sender):
        """A connection has gone, and its sessions with it."""
        self._scanning.discard(sender)
        for sessions in self.notifying.values():
            sessions.discard(sender)

    # answers, by the names of the real interface

    def _GetManagedObjects(self, message):  # noqa: N802
        return Message.new_method_return(message, "a{oa{sa{sv}}}", [self._objects()])

    def _SetDiscoveryFilter(self, message):  # noqa: N802
        return Message.new_method_return(message)

    def _StartDiscovery(self, message):  # noqa: N802
        if self.denied:
            return Message.new_error(message, "org.freedesktop.DBus.Error.AccessDenied", "not allowed")
        if not self.powered:
            return Message.new_error(message, "org.bluez.Error.NotReady", "Resource Not Ready")
        self._scanning.add(message.sender)
        return Message.new_method_return(message)

    def _StopDiscovery(self, message):  # noqa: N802
        self._scanning.discard(message.sender)
        return Message.new_method_return(message)

    def _Connect(self, message):  # noqa: N802
        peer = self._peer(message.path)
        if peer.refuse:
            return Message.new_error(message, peer.refuse, "it said no")
        return self._later(self._connected(peer), message)

    def _later(self, work, message=None):
        """Do something that takes time, then answer."""

        async def done():
            await work
            if message is not None:
                await self._bus.send(Message.new_method_return(message))

        task = asyncio.create_task(done())
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return True

    async def _connected(self, peer):
        await asyncio.sleep(peer.connect_s)
        if peer.att is not None:
            await peer.att.connect(lambda value: self._notify(peer, [value]), lambda: self._drop(peer))
        peer.connected = True
        self._changed(peer.path, "org.bluez.Device1", {"Connected": Variant("b", True)})
        self._changed(peer.path, "org.bluez.Device1", {"ServicesResolved": Variant("b", True)})

    def _Disconnect(self, message):  # noqa: N802
        peer = self._peer(message.path)
        self.notifying.pop(peer.characteristic_path, None)
        if peer.att is not None:
            self._later(peer.att.drop())
        self._drop(peer)
        return Message.new_method_return(message)

    def _ReadValue(self, message):  # noqa: N802
        return Message.new_method_return(message, "ay", [bytes([self._peer(message.path).battery])])

    def _WriteValue(self, message):  # noqa: N802
        peer, value = self._peer(message.path), bytes(message.body[0])
        if peer.att is not None:
            return self._later(peer.att.write(value), message)
        peer.written.append(value)
        return Message.new_method_return(message)

    def _StartNotify(self, message):  # noqa: N802
        if refused := self._peer(message.path).refuse_notify:
            return Message.new_error(message, refused, "Notify acquired")
        self.notifying.setdefault(message.path, set()).add(message.sender)
        if (att := self._peer(message.path).att) is not None:
            return self._later(att.subscribe(), message)
        return Message.new_method_return(message)

    def _StopNotify(self, message):  # noqa: N802
        self.notifying.get(message.path, set()).discard(message.sender)
        return Message.new_method_return(message)

    def _AcquireNotify(self, message):  # noqa: N802
        if message.path in self.sockets or self.notifying.get(message.path):
            return Message.new_error(message, "org.bluez.Error.InProgress", "In Progress")
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self.sockets[message.path] = ours
        reply = Message.new_method_return(message, "hq", [0, 247], unix_fds=[theirs.detach()])
        return reply  # noqa: RET504

    # the world

    def _peer(self, path):
        return next(peer for peer in self.peers.values() if path.startswith(peer.path))

    def _add(self, peer):
        self.peers[peer.path] = peer
        for path, interfaces in self._objects_of(peer).items():
            self._signal("/", "org.freedesktop.DBus.ObjectManager", "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])

    def _drop(self, peer):
        if (ours := self.sockets.pop(peer.characteristic_path, None)) is not None:
            ours.close()
        if peer.connected:
            peer.connected = False
            gone = {"Connected": Variant("b", False), "ServicesResolved": Variant("b", False)}
            self._changed(peer.path, "org.bluez.Device1", gone)

    def _notify(self, peer, values):
        path = peer.characteristic_path
        if not peer.connected:
            return
        for value in values:
            if (ours := self.sockets.get(path)) is not None:
                with contextlib.suppress(OSError):
                    ours.send(value)
            for _ in self.notifying.get(path, ()):
                self._changed(path, "org.bluez.GattCharacteristic1", {"Value": Variant("ay", value)})

    def _changed(self, path, interface, properties):
        body = [interface, properties, []]
        self._signal(path, "org.freedesktop.DBus.Properties", "PropertiesChanged", "sa{sv}as", body)

    def _signal(self, path, interface, member, signature, body):
        self._bus.send(Message.new_signal(path, interface, member, signature, body))

    def _objects(self):
        adapter = {
            "Address": Variant("s", "00:00:5E:00:53:00"),
            "Powered": Variant("b", self.powered),
            "Roles": Variant("as", ["central"]),
        }
        objects = {ADAPTER: {"org.bluez.Adapter1": adapter}}
        for peer in self.peers.values():
            objects |= self._objects_of(peer)
        return objects

    def _objects_of(self, peer):
        services = [peer.service] + ([BATTERY] if peer.battery is not None else [])
        device = {
            "Address": Variant("s", peer.address),
            "AddressType": Variant("s", "random"),
            "Name": Variant("s", peer.name),
            "Alias": Variant("s", peer.name),
            "Adapter": Variant("o", ADAPTER),
            "Paired": Variant("b", False),
            "Connected": Variant("b", peer.connected),
            "ServicesResolved": Variant("b", peer.connected),
            "UUIDs": Variant("as", services),
            "RSSI": Variant("n", peer.rssi),
        }
        objects = {peer.path: {"org.bluez.Device1": device}}
        objects |= _service(peer.path, "0001", peer.service, "0002", peer.characteristic, ["notify", "write"])
        if peer.battery is not None:
            objects |= _service(peer.path, "0004", BATTERY, "0005", LEVEL, ["read"])
        return objects


def _service(device, number, uuid, characteristic_number, characteristic, flags):  # noqa: PLR0917
    path = f"{device}/service{number}"
    return {
        path: {
            "org.bluez.GattService1": {
                "UUID": Variant("s", uuid),
                "Device": Variant("o", device),
                "Primary": Variant("b", True),
                "Handle": Variant("q", int(number)),
            }
        },
        f"{path}/char{characteristic_number}": {
            "org.bluez.GattCharacteristic1": {
                "UUID": Variant("s", characteristic),
                "Service": Variant("o", path),
                "Flags": Variant("as", flags),
                "Value": Variant("ay", b""),
                "MTU": Variant("q", 247),
                "Handle": Variant("q", int(characteristic_number)),
            }
        },
    }
