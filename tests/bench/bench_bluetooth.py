"""Bluetooth packets decoded and placed, against bleak's bare notifications; and what a sensor of 1 kHz costs of a core.

Run as ``python tests/bench/bench_bluetooth.py``. The sensor and the Bluetooth service (tests/fakes/bluez.py) run in a
process of their own, so that the processor time measured here is the program's: bleak, the link, the journal, the
decoder, the time base, the ring and the trial detector. Nothing is drawn. *At once* each notification is taken as it
comes, as for the window; *unwatched* is the recording of the command line.
"""

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "fakes"))

from bleak import BleakClient, BleakScanner
from bluez import VARIABLE, Air, Peer

from acquire.decoders.packets import packet_body
from acquire.links.bluetooth import BluetoothLink
from acquire.sensor.profile import load_profile
from acquire.storage.journal import JournalWriter
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Recorder
from acquire.stream.recovery import JournalHeader
from acquire.values.records import SessionContext
from ui.commands.open_sensors import UNWATCHED_S

PROFILE = load_profile("ble-packets")
SECONDS = 5.0
HEADER = JournalHeader(
    session=SessionContext(session="bench", started=datetime.now(UTC)),
    profile=PROFILE,
    calibration=PROFILE.nominal_calibration(),
    began=datetime.now(UTC),
)


def be_the_air(per_second, size):
    """Say the bus, and notify packets at a pace each time a line comes."""
    air = Air()
    peer = air.bluez.add(Peer("Grip-01", PROFILE.service, PROFILE.characteristic))
    print(os.environ[VARIABLE], flush=True)
    step = PROFILE.tick_hz * size / PROFILE.rate_hz
    count = round(per_second * SECONDS)
    values = [packet_body(n % 65536, round(n * step) % 2**32, [n % 50] * size, count_bits=24) for n in range(count)]
    while sys.stdin.readline():
        air.bluez.play(peer, values, period_s=1.0 / per_second).result()
    air.close()


def bare(sensor, count):
    """Return the processor seconds that bleak alone takes for so many notifications."""

    async def receive():
        came = []
        async with BleakClient(await BleakScanner.find_device_by_name("Grip-01")) as client:
            await client.start_notify(PROFILE.characteristic, lambda _, data: came.append(bytes(data)))
            began = time.process_time()
            print(file=sensor.stdin, flush=True)
            while len(came) < count:
                await asyncio.sleep(0.05)
            return time.process_time() - began

    return asyncio.run(receive())


def ours(sensor, count, size, pause_s):
    """Return the processor seconds and the seconds that a recording takes for the same, everything but drawing."""
    pipeline = Pipeline(PROFILE, PROFILE.nominal_calibration())
    with tempfile.TemporaryDirectory() as folder:
        journal = JournalWriter(Path(folder) / "bench.journal", HEADER)
        recorder = Recorder(BluetoothLink("Grip-01", PROFILE), pipeline, journal=journal, pause_s=pause_s)
        recorder.start()
        used, began = time.process_time(), time.monotonic()
        print(file=sensor.stdin, flush=True)
        while pipeline.ring.written < count * size:
            time.sleep(0.1)
        used, elapsed = time.process_time() - used, time.monotonic() - began
        recorder.stop()
        return used, elapsed


def main():
    columns = ("packets/s", "samples/s", "bleak us", "CPU", "at once", "CPU", "/ bleak", "unwatched", "CPU", "/ bleak")
    print("".join(f"{name:>10}" for name in columns))
    for per_second, size in ((100, 10), (1000, 1), (5000, 1)):
        command = [sys.executable, __file__, "--air", str(per_second), str(size)]
        sensor = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        os.environ[VARIABLE] = sensor.stdout.readline().strip()
        count = round(per_second * SECONDS)
        raw = bare(sensor, count)
        line = f"{per_second:>10}{per_second * size:>10}{1e6 * raw / count:>10.0f}{raw / SECONDS:>10.1%}"
        for pause_s in (0.0, UNWATCHED_S):
            used, elapsed = ours(sensor, count, size, pause_s)
            line += f"{1e6 * used / count:>10.0f}{used / elapsed:>10.1%}{used / raw:>10.2f}"
        sensor.communicate()
        print(line)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--air"]:
        be_the_air(int(sys.argv[2]), int(sys.argv[3]))
    else:
        main()
