"""Two sensors at once, on one clock: recorded, recovered, compared; and force sent to other programs."""

import contextlib
import json
import threading
import time

import numpy as np
import pylsl
import pytest

from acquire.decoders import encode_packet
from acquire.sensor.profile import load_profile
from acquire.simulation.pty import PseudoTerminal
from acquire.storage.session_file import read_session
from ui.session.crash import journal_path, second_journal_path

pytestmark = pytest.mark.slow

RATE_HZ = 1000.0
PER_N = load_profile("packets-1k").counts_per_newton


@contextlib.contextmanager
def played(*forces, speed=3.0):
    """Play forces on sensors at the same time, faster than their clocks say, from when all are told to start."""
    with contextlib.ExitStack() as opened:
        terminals = [opened.enter_context(PseudoTerminal()) for _ in forces]
        stop = threading.Event()

        def play():
            told = [b""] * len(terminals)
            while not all(b"start" in heard for heard in told):
                told = [heard + terminal.read() for heard, terminal in zip(told, terminals, strict=True)]
                if stop.wait(0.002):
                    return
            began = time.monotonic()
            for n in range(min(len(force) for force in forces) // 10):
                if stop.wait(max(0.0, began + 0.01 * n / speed - time.monotonic())):
                    return
                for terminal, force in zip(terminals, forces, strict=True):
                    counts = np.rint(force[10 * n : 10 * n + 10] * PER_N).astype(int).tolist()
                    terminal.write(encode_packet(n % 65536, 10_000 * n % 2**32, counts, count_bits=24))

        thread = threading.Thread(target=play, daemon=True)
        thread.start()
        try:
            yield [terminal.port for terminal in terminals]
        finally:
            stop.set()
            thread.join()


def effort(plateau_n, *, before_s=1.6, hold_s=4.2, after_s=2.0):
    """Rest, a ramp of 1.2 s, a hold, rest."""
    step = 1.0 / RATE_HZ
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(0.0, 1.2, step) / 1.2)
    shape = [
        np.zeros(round(before_s / step)),
        ramp,
        np.ones(round(hold_s / step)),
        ramp[::-6],
        np.zeros(round(after_s / step)),
    ]
    force = plateau_n * np.concatenate(shape)
    return force + np.random.default_rng(1).normal(0.0, 0.1, len(force))


def test_second_limb_is_waited_for_and_kept_with_its_side_on_the_same_clock(started, tmp_path):
    out = tmp_path / "pair.h5"
    late = np.concatenate([np.zeros(500), effort(120.0), np.zeros(3500)])
    # clocks are joined by when their packets arrive: each runs as fast as it says
    with played(np.concatenate([effort(200.0), np.zeros(4000)]), late, speed=1.0) as ports:
        program = started(
            *("record", "--sensor", "packets-1k", "--port", ports[0], "--out", out, "--side", "left"),
            *("--second-sensor", "packets-1k", "--second-port", ports[1], "--action", "knee-extension", "--count", "1"),
            *("--method", "belt"),
        )
        assert program.wait().code == 0
    left, right = trials = read_session(out).trials
    assert [(trial.context.side, trial.damage) for trial in trials] == [("left", ()), ("right", ())]
    assert [trial.verdict["verdict"] for trial in trials] == ["accepted", "accepted"]
    assert not list(tmp_path.glob("*.journal"))
    assert left.context.sensor == f"1: packets-1k at {ports[0]}"
    assert right.context.sensor == f"2: packets-1k at {ports[1]}"
    onsets = [trial.time[0] + trial.verdict["onset_s"] for trial in (left, right)]
    assert onsets[1] - onsets[0] == pytest.approx(0.5, abs=0.03)


def test_sensor_is_compared_with_a_reference(ramphold):
    time_s = np.arange(0.0, 11.0, 1.0 / RATE_HZ)
    force = np.where(time_s < 2.5, 0.0, 150.0 * (0.5 - 0.5 * np.cos(1.35 * (time_s - 2.5))))
    with played(force, 1.05 * force, speed=1.0) as (reference, sensor):
        result = ramphold(
            *("compare", "packets-1k", "--port", sensor, "--reference", "packets-1k", "--reference-port", reference),
            *("--seconds", "5", "--json"),
        )
    assert result.code == 0, result.err
    assert result.json["gain"] == pytest.approx(1.05, abs=0.005)
    assert abs(result.json["lag_s"]) < 0.01
    assert "leave both sensors unloaded" in result.err


def test_comparison_without_a_load_says_what_to_do(ramphold):
    with played(np.zeros(12_000), np.zeros(12_000), speed=1.0) as (reference, sensor):
        result = ramphold(
            *("compare", "packets-1k", "--port", sensor, "--reference", "packets-1k", "--reference-port", reference),
            *("--seconds", "5"),
        )
    assert result.code == 1
    assert "press over at least 20 N" in result.err


def test_both_journals_are_recovered_after_a_crash(started, ramphold, tmp_path):
    out = tmp_path / "pair.h5"
    force = np.concatenate([effort(200.0), np.zeros(9000)])
    with played(force, 0.5 * force) as ports:
        program = started(
            *("record", "--sensor", "packets-1k", "--port", ports[0], "--out", out, "--side", "left"),
            *("--second-sensor", "packets-1k", "--second-port", ports[1], "--count", "9"),
        )
        program.out.until("accepted", times=2)
        program.kill()
        program.wait()
    assert journal_path(out).exists()
    assert second_journal_path(out).exists()
    out.unlink()
    result = ramphold("record", "--sensor", "simulated", "--speed", "40", "--out", out, "--count", "1")
    assert "recovered 2 trials" in result.out
    assert not second_journal_path(out).exists()
    trials = read_session(out).trials[:2]
    assert {trial.context.side for trial in trials} == {"left", "right"}
    assert abs(trials[0].time[0] - trials[1].time[0]) < 0.1


def test_force_and_verdicts_reach_a_real_inlet_on_the_same_clock(ramphold, tmp_path):
    force = np.concatenate([effort(180.0), np.zeros(5000)])
    took = {}

    def listen():
        (info,) = pylsl.resolve_byprop("name", "Ramphold test", timeout=20.0)
        inlet = pylsl.StreamInlet(info)
        full = inlet.info()
        took["unit"] = full.desc().child("channels").child("channel").child_value("unit")
        took["rate"] = full.nominal_srate()
        (marks,) = pylsl.resolve_byprop("name", "Ramphold test markers", timeout=20.0)
        markers = pylsl.StreamInlet(marks)
        markers.open_stream()
        samples, stamps, end = [], [], time.monotonic() + 40.0
        while "mark" not in took and time.monotonic() < end:
            chunk, at = inlet.pull_chunk(timeout=0.2)
            samples += [value for (value,) in chunk]
            stamps += at
            mark, marked = markers.pull_sample(timeout=0.0)
            if mark:
                took["mark"], took["marked"] = json.loads(mark[0]), marked
        took["samples"], took["stamps"] = np.array(samples), np.array(stamps)

    listener = threading.Thread(target=listen, daemon=True)
    listener.start()
    with played(force, speed=1.0) as (port,):  # as the clock of the network runs
        out = tmp_path / "lsl.h5"
        ramphold(
            *("record", "--sensor", "packets-1k", "--port", port, "--out", out, "--count", "1"),
            *("--lsl", "Ramphold test", "--method", "belt"),
        )
    listener.join(60.0)
    assert (took["unit"], took["rate"]) == ("newtons", RATE_HZ)
    assert took["mark"]["verdict"] == "accepted"
    stamps, samples = took["stamps"], took["samples"]
    assert (np.diff(stamps) >= 0.0).all()
    assert np.median(np.diff(stamps)) == pytest.approx(1.0 / RATE_HZ, rel=0.05)
    assert float(np.percentile(samples, 95)) == pytest.approx(180.0, rel=0.01)
    # the marker lies at the onset: before it hardly any force, a second later most of it
    at = np.interp(took["marked"] + np.array([-0.1, 1.0]), stamps, samples)
    assert at[0] < 5.0
    assert at[1] > 120.0
    assert abs(stamps[-1] - pylsl.local_clock()) < 30.0
