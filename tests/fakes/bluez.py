"""A Bluetooth service without a radio: `org.bluez` on a private bus, so that bleak's own Linux code runs unchanged.

`Air` is a private bus and `BlueZ`, the service on it, in a thread of its own, with one adapter and the sensors
(`peer.Peer`) that a test puts in range. It keeps the rules of the real service that a driver can trip over (seen with
the real one):

- a connection belongs to nobody: it stays when the program that asked for it is killed, and then the sensor does not
  advertise itself;
- notify sessions belong to a D-Bus connection; one that is not closed after a drop goes on, and then each sample comes
  twice, or AcquireNotify is refused;
- services and characteristics appear when a sensor is first connected, after `Connected` and before `ServicesResolved`;
- sensors are told again each 100 ms while somebody scans, since a scanner may begin to listen after the first time;
- a service that dies says nothing to its clients, and one that hangs never answers.
"""

import asyncio
import contextlib
import os
import socket
import tempfile
import threading

from dbus_fast import BusType, Message, MessageType, Variant
from dbus_fast.aio import MessageBus
from peer import ADAPTER, LEVEL, Peer
from private_bus import VARIABLE, PrivateBus

__all__ = ["LEVEL", "VARIABLE", "Air", "BlueZ", "Peer"]

DEVICE = "org.bluez.Device1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
ADVERTISE_S = 0.1


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
        self.adapter = True
        """Whether there is one."""
        self.powered = True
        self.denied = False
        self.hung = False
        """While this is true no call is answered."""
        self.notifying = {}
        """Sessions: the path of a characteristic to the D-Bus names that listen."""
        self.acquired = {}
        """Sessions by AcquireNotify: the path to the D-Bus name that listens and our end of its socket."""
        self._address = address
        self._scanning = set()
        self._connecting = set()
        """The sensors that somebody has begun to connect to."""
        self._tasks = set()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()), name="bluez", daemon=True)
        self._thread.start()
        assert self._ready.wait(10)

    # what tests do

    def add(self, peer):
        """Put a sensor in range."""
        self._do(self._add, peer)
        return peer

    def notify(self, peer, *values):
        """Let a sensor notify values, as fast as the bus takes them."""
        self._do(self._notify, peer, values)

    def play(self, peer, values, period_s):
        """Let a sensor notify values at a pace, and return a future of the end."""
        return self.run(self._play(peer, values, period_s))

    def when_listened_to(self, peer, values, period_s):
        """Let a sensor notify values at a pace, from when somebody listens to it."""

        async def play():
            while not self.notifying.get(peer.characteristic_path):
                await asyncio.sleep(0.001)
            await self._play(peer, values, period_s)

        return self.run(play())

    def drop(self, peer):
        """Let a sensor break the connection."""
        self._do(self._drop, peer)

    def run(self, coroutine):
        """Run something in the service's loop, and return a future of the end."""
        return asyncio.run_coroutine_threadsafe(coroutine, self._loop)

    def sessions(self, peer):
        """Return how many connections listen to a sensor."""
        return len(self.notifying.get(peer.characteristic_path, ()))

    def connections(self):
        """Return how many programs, or parts of one, are connected to the bus."""
        return self.run(self._connections()).result(10)

    def wait_for_scan(self):
        """Wait until somebody scans."""
        self.run(self._scanned()).result(10)

    def wait_for_connect(self, peer):
        """Wait until somebody has begun to connect to a sensor."""
        self.run(self._begun(peer)).result(10)

    def power(self, on):
        """Switch the adapter; what is connected drops."""
        self.powered = on
        self._do(self._changed, ADAPTER, "org.bluez.Adapter1", {"Powered": Variant("b", on)})
        for peer in self.peers.values() if not on else ():
            self._do(self._drop, peer)

    def close(self):
        """Die without a word."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)
            self._thread.join()

    # the service

    def _do(self, what, *arguments):
        async def done():
            what(*arguments)

        self.run(done()).result(10)

    async def _serve(self):
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        self._bus = MessageBus(bus_address=self._address, bus_type=BusType.SYSTEM, negotiate_unix_fd=True)
        await self._bus.connect()
        self._bus.add_message_handler(self._handle)
        await self._call_bus("AddMatch", "s", "type='signal',member='NameOwnerChanged'")
        await self._bus.request_name("org.bluez")
        self._ready.set()
        repeating = asyncio.create_task(self._advertise())
        await self._stop.wait()
        repeating.cancel()
        for path in list(self.acquired):
            self._release(path)
        self._bus.disconnect()

    async def _connections(self):
        reply = await self._call_bus("ListNames")
        return sum(name.startswith(":") for name in reply.body[0])

    async def _scanned(self):
        while not self._scanning:
            await asyncio.sleep(0.001)

    async def _begun(self, peer):
        while peer.path not in self._connecting:
            await asyncio.sleep(0.001)

    async def _call_bus(self, member, signature="", *body):
        return await self._bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member=member,
                signature=signature,
                body=list(body),
            )
        )

    async def _advertise(self):
        while True:
            await asyncio.sleep(ADVERTISE_S)
            for peer in self.peers.values():
                if self._scanning and self.powered and peer.advertising and not peer.connected:
                    self._changed(peer.path, DEVICE, {"RSSI": Variant("n", peer.rssi)})

    async def _play(self, peer, values, period_s):
        began = self._loop.time()
        for number, value in enumerate(values):
            wait = began + number * period_s - self._loop.time()
            if wait > 0:
                await asyncio.sleep(wait)
            self._notify(peer, [value])

    def _handle(self, message):
        if message.message_type is MessageType.SIGNAL:
            if message.member == "NameOwnerChanged" and not message.body[2]:
                self._left(message.body[0])
            return None
        if message.message_type is not MessageType.METHOD_CALL or message.destination != "org.bluez":
            return None
        if self.hung:
            return True
        answer = getattr(self, f"_{message.member}", None)
        return answer(message) if answer else None

    def _left(self, sender):
        """A D-Bus connection has gone, and its sessions with it; what it connected stays connected."""
        self._scanning.discard(sender)
        for sessions in self.notifying.values():
            sessions.discard(sender)
        for path in [path for path, (owner, _) in self.acquired.items() if owner == sender]:
            self._release(path)

    def _later(self, work):
        """Answer when something that takes time is done."""
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return True  # which says that the call is dealt with

    async def _answered(self, message, work):
        await work
        await self._bus.send(Message.new_method_return(message))

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
            return _refused(message, peer.refuse)
        if peer.aborts:
            return self._later(self._abort(peer, message))
        return self._later(self._answered(message, self._connect(peer)))

    async def _abort(self, peer, message):
        """Fail as BlueZ 5.62 and later do when a link falls as soon as it is up."""
        peer.aborts -= 1
        self._changed(peer.path, DEVICE, {"Connected": Variant("b", True)})
        await self._bus.send(Message.new_error(message, "org.bluez.Error.Failed", "le-connection-abort-by-local"))
        self._changed(peer.path, DEVICE, {"Connected": Variant("b", False)})

    async def _connect(self, peer):
        self._connecting.add(peer.path)
        await asyncio.sleep(peer.connect_s)
        if peer.att is not None:
            await peer.att.connect(lambda value: self._notify(peer, [value]), lambda: self._drop(peer))
        peer.connected = True
        self._changed(peer.path, DEVICE, {"Connected": Variant("b", True)})
        if not peer.resolved:
            peer.resolved = True
            self._appear(peer.services())
        self._changed(peer.path, DEVICE, {"ServicesResolved": Variant("b", True)})

    def _Disconnect(self, message):  # noqa: N802
        peer = self._peer(message.path)
        self.notifying.pop(peer.characteristic_path, None)
        if peer.att is not None:
            return self._later(self._answered(message, self._hang_up(peer)))
        self._drop(peer)
        return Message.new_method_return(message)

    async def _hang_up(self, peer):
        await peer.att.drop()
        self._drop(peer)

    def _ReadValue(self, message):  # noqa: N802
        level = self._peer(message.path).battery
        return Message.new_method_return(message, "ay", [level if isinstance(level, bytes) else bytes([level])])

    def _WriteValue(self, message):  # noqa: N802
        peer, value = self._peer(message.path), bytes(message.body[0])
        if peer.refuse_write:
            return _refused(message, peer.refuse_write)
        if peer.att is not None:
            return self._later(self._answered(message, peer.att.write(value)))
        peer.written.append(value)
        peer.written_to.append(peer.uuid_of(message.path))
        return Message.new_method_return(message)

    def _StartNotify(self, message):  # noqa: N802
        if refused := self._peer(message.path).refuse_notify:
            return _refused(message, refused)
        self.notifying.setdefault(message.path, set()).add(message.sender)
        if (att := self._peer(message.path).att) is not None:
            return self._later(self._answered(message, att.subscribe()))
        return Message.new_method_return(message)

    def _StopNotify(self, message):  # noqa: N802
        self.notifying.get(message.path, set()).discard(message.sender)
        return Message.new_method_return(message)

    def _AcquireNotify(self, message):  # noqa: N802
        if message.path in self.acquired or self.notifying.get(message.path):
            return Message.new_error(message, "org.bluez.Error.InProgress", "In Progress")
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self.acquired[message.path] = message.sender, ours

        async def handed_over():
            await self._bus.send(Message.new_method_return(message, "hq", [0, 247], [theirs.fileno()]))
            theirs.close()

        return self._later(handed_over())

    # the world

    def _peer(self, path):
        return next(peer for peer in self.peers.values() if path.startswith(peer.path))

    def _add(self, peer):
        self.peers[peer.path] = peer
        self._appear({peer.path: {DEVICE: peer.device()}})

    def _appear(self, objects):
        for path, interfaces in objects.items():
            self._signal("/", "org.freedesktop.DBus.ObjectManager", "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])

    def _drop(self, peer):
        """Break a connection; sessions by signal outlive it, sockets do not."""
        if peer.characteristic_path in self.acquired:
            self._release(peer.characteristic_path)
        if peer.connected:
            peer.connected = False
            gone = {"Connected": Variant("b", False), "ServicesResolved": Variant("b", False)}
            self._changed(peer.path, DEVICE, gone)

    def _release(self, path):
        _, ours = self.acquired.pop(path)
        ours.close()

    def _notify(self, peer, values):
        path = peer.characteristic_path
        if not peer.connected:
            return
        for value in values:
            if path in self.acquired:
                with contextlib.suppress(OSError):
                    self.acquired[path][1].send(value)
            for _ in self.notifying.get(path, ()):
                self._changed(path, CHARACTERISTIC, {"Value": Variant("ay", value)})

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
        objects = {ADAPTER: {"org.bluez.Adapter1": adapter}} if self.adapter else {}
        for peer in self.peers.values():
            objects[peer.path] = {DEVICE: peer.device()}
            objects |= peer.services() if peer.resolved else {}
        return objects


def _refused(message, error):
    name, text = error if isinstance(error, tuple) else (error, "it said no")
    return Message.new_error(message, name, text)
