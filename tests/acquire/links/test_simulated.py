import math
from pathlib import Path

import numpy as np
import pytest

from acquire.decoders import decoder_for
from acquire.errors import LinkError, LinkFailure
from acquire.links import SimulatedLink, device_program
from acquire.sensor.profile import known_profiles
from acquire.simulation.cell import Cell
from acquire.simulation.device import Device, load_command

pytestmark = pytest.mark.timeout(60)

SERIAL = [profile for profile in known_profiles() if profile.link == "serial"]


def everything(link):
    chunks = []
    while not link.finished:
        link.wait(0.1)
        chunks += link.chunks()
    return chunks


def joined(chunks):
    return b"".join(chunk.data for chunk in chunks)


def take_all(link, received):
    while not link.finished:
        link.wait(0.1)
        received += joined(link.chunks())


@pytest.mark.parametrize("profile", SERIAL, ids=lambda profile: profile.name)
def test_each_known_serial_sensor_is_played_to_its_end(profile):
    counts = np.arange(-250, 250)
    with SimulatedLink(profile, counts, speed=math.inf, samples_per_packet=7) as link:
        received = joined(everything(link))
    assert received == b"".join(f.data for f in Device(profile, counts, samples_per_packet=7).frames())
    assert link.trouble is None


def test_speed_changes_neither_bytes_nor_device_seconds(packets):
    # 4 s of device time: 200 times as fast, in 20 ms.
    with SimulatedLink(packets, np.arange(4000), speed=200.0) as link:
        chunks = everything(link)
    assert len(joined(chunks)) == len(b"".join(f.data for f in Device(packets, np.arange(4000)).frames()))
    # The first packet is complete at 9 ms. A busy machine can be late, never early.
    assert chunks[-1].arrival - chunks[0].arrival > 3.0


@pytest.mark.slow
def test_hundred_times_as_fast_keeps_pace_and_is_no_stall(packets):
    chunks = []
    with SimulatedLink(packets, np.arange(200_000), speed=100.0) as link:
        while not link.finished:
            link.wait(0.1)
            assert link.trouble is None
            chunks += link.chunks()
    assert 190.0 < chunks[-1].arrival - chunks[0].arrival < 400.0


def test_silence_after_the_end_is_no_trouble(packets, monkeypatch):
    with SimulatedLink(packets, np.arange(100), speed=math.inf) as link:
        everything(link)
        monkeypatch.setattr(link._serial, "_stalled_after_s", -1.0)
        assert link._serial.trouble.reason is LinkFailure.STALLED
        assert link.trouble is None


def test_unplugged_device_fails_after_its_data(packets):
    with SimulatedLink(packets, np.arange(1000), options=("--unplug-after", "0.2")) as link:
        received = bytearray()
        with pytest.raises(LinkError, match="was unplugged") as caught:
            take_all(link, received)
        assert caught.value.reason is LinkFailure.UNPLUGGED
        assert not link.finished
    whole = b"".join(frame.data for frame in Device(packets, np.arange(1000)).frames())
    assert received
    assert whole.startswith(received)


def test_damaged_packets_are_counted_by_the_decoder(packets):
    options = ("--corrupt-every", "10")
    decoder = decoder_for(packets)
    with SimulatedLink(packets, np.arange(1000), speed=math.inf, options=options) as link:
        decoder.feed(joined(everything(link)))
    assert decoder.damaged == 10


def test_device_that_cannot_start(packets):
    with pytest.raises(LinkError, match=r"did not start \(counts must be whole numbers.*\): check") as caught:
        SimulatedLink(packets, np.array([0.5]))
    assert caught.value.reason is LinkFailure.FAILED


def test_nothing_is_left_behind(packets):
    link = SimulatedLink(packets, np.arange(1000))
    process, folder, port = link._process, Path(link._folder.name), link.port
    assert folder.is_dir()
    made = Path(port).stat().st_ctime_ns
    link.close()
    assert process.returncode == 0
    assert not folder.exists()
    # the number may have gone to a terminal of another program at once
    assert not Path(port).exists() or Path(port).stat().st_ctime_ns > made


def test_device_that_does_not_end_in_time_is_killed(packets, monkeypatch):
    monkeypatch.setattr(device_program, "STOP_LIMIT_S", 0.0)
    link = SimulatedLink(packets, np.arange(1000))
    process = link._process
    link.close()
    assert process.returncode is not None


def test_cell_is_loaded_over_the_wire(packets):
    decoder, counts = decoder_for(packets), []
    with SimulatedLink(packets, Cell(swing_pct=0.0), speed=20.0) as link:
        link.send(load_command(100.0))
        while not counts or counts[-1] < round(100.0 * packets.counts_per_newton):
            assert link.wait(10.0)
            for chunk in link.chunks():
                counts += [count for event in decoder.feed(chunk.data) for count in event.counts]
    assert max(counts) == 100.0 * packets.counts_per_newton
    assert counts == sorted(counts)
