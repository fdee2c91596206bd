"""From a byte on the wire to a painted pixel: pseudo-terminal, serial link, recorder, ring, live trace.

A process of its own writes packets at the sensor's rate; now and then the force steps to a height of its own. The time
from the write of a step's first packet to the end of the paint that shows it is compared with the period of
a 60 Hz screen. The goal is a median under one frame and 99 of 100 under two.
"""

import itertools
import json
import os
import random
import statistics
import subprocess
import sys
import time

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtWidgets import QApplication

from acquire.decoders import encode_packet
from acquire.links.serial import SerialLink
from acquire.sensor.profile import load_profile
from acquire.simulation.pty import PseudoTerminal
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Recorder
from acquire.values.units import ForceUnit
from ui.model.theme import DARK
from ui.window.stage.place import FRAMES_IN_TRIAL
from ui.window.stage.trace_view import EFFORT_SPAN, MINUTE_SPAN, TraceView
from ui.words.words import Words

FRAME_S = 1.0 / 60.0
STEPS = 100
COUNTS = 4000


class Watched(TraceView):
    """Notes when each height was first painted."""

    def __init__(self):
        super().__init__(Words(), DARK, ForceUnit.NEWTON)
        self.newest = 0.0
        self.painted = {}

    def paintEvent(self, event):
        super().paintEvent(event)
        self.painted.setdefault(round(self.newest), time.monotonic())


def send(rate_hz):
    """Be the sensor: say the port, wait for a word, write packets, and say when each height was written.

    It is a process of its own, as a sensor is; both read the same system-wide clock.
    """
    chance, size = random.Random(1), max(1, round(rate_hz / 1000))
    height, tick, sequence, left, written = 0, 0, 0, 300, {}
    with PseudoTerminal() as terminal:
        print(terminal.port, flush=True)
        sys.stdin.readline()
        begun = time.monotonic()
        while height <= STEPS:
            time.sleep(max(0.0, begun + sequence * size / rate_hz - time.monotonic()))
            if left == 0:
                height, left = height + 1, chance.randint(60, 140)
                written[height] = time.monotonic()
            packet = encode_packet(sequence % 65536, tick % 2**32, [height * COUNTS] * size, count_bits=24)
            terminal.write(packet)
            sequence, tick, left = sequence + 1, tick + round(1e6 * size / rate_hz), left - 1
        print(json.dumps(written), flush=True)
        sys.stdin.readline()


def measured(application, rate_hz, span):
    """Return the sorted delays, frames a second and share of a core."""
    profile = load_profile("packets-1k")
    sensor = subprocess.Popen(
        [sys.executable, __file__, "--send", str(rate_hz)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with SerialLink(sensor.stdout.readline().strip()) as link:
        recorder = Recorder(link, Pipeline(profile, profile.nominal_calibration()))
        before = np.arange(-span.length * rate_hz, 0.0) / rate_hz
        recorder.pipeline.ring.append(before, np.zeros(len(before)))  # full from the first frame on
        recorder.start()
        view = Watched()
        view.resize(1200, 500)
        view.show_span(span)
        view.show()

        ending = []

        def frame():
            ring = recorder.pipeline.ring
            part = ring.since(ring.written - round(span.length * rate_hz))
            if len(part.time):
                view.newest = part.counts[-1] / COUNTS
                view.show_trace(part.time - part.time[-1] + span.stop, part.counts / COUNTS)
                if view.newest >= STEPS and not ending:
                    ending.append(True)
                    QTimer.singleShot(500, application.quit)

        timer = QTimer()
        timer.setTimerType(Qt.TimerType.PreciseTimer)
        timer.timeout.connect(frame)
        timer.start(round(1000.0 / FRAMES_IN_TRIAL))
        print("go", file=sensor.stdin, flush=True)
        used, begun = time.process_time(), time.monotonic()
        application.exec()
        used, elapsed = time.process_time() - used, time.monotonic() - begun
        timer.stop()
        recorder.stop()
        rate = view.frames / elapsed
        view.close()
    written = json.loads(sensor.stdout.readline())
    sensor.communicate("done\n")
    delays = sorted(view.painted[int(h)] - at for h, at in written.items() if int(h) in view.painted)
    return delays, rate, used / elapsed


def main():
    application = QApplication(sys.argv[:1])
    print(
        f"{'rate':>8}{'shown s':>9}{'steps':>7}{'p50 ms':>8}{'p99 ms':>8}{'p50/frame':>11}{'p99/frame':>11}"
        f"{'fps':>6}{'CPU':>7}"
    )
    for rate_hz, span in itertools.product((1000.0, 10000.0), (EFFORT_SPAN, MINUTE_SPAN)):
        delays, rate, used = measured(application, rate_hz, span)
        middle, late = statistics.median(delays), delays[int(0.99 * len(delays))]
        print(
            f"{rate_hz:>8.0f}{span.length:>9.0f}{len(delays):>7}{1e3 * middle:>8.1f}{1e3 * late:>8.1f}"
            f"{middle / FRAME_S:>11.2f}{late / FRAME_S:>11.2f}{rate:>6.0f}{used:>7.0%}"
        )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--send"]:
        send(float(sys.argv[2]))
    else:
        main()
