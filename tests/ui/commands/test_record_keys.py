"""A battery carried through by keys on a pseudo-terminal, by a person who pushes when the program says so."""

import os
import pty
import threading
import time
from importlib.resources import files

import numpy as np
import pytest

from acquire.decoders import encode_packet
from acquire.sensor.profile import load_profile
from acquire.simulation.pty import PseudoTerminal
from acquire.storage.session_file import read_session
from acquire.values.remarks import ProgramReason

pytestmark = pytest.mark.slow

PER_N = load_profile("packets-1k").counts_per_newton
RAMP_S = 1.3
SPEED = 3.0
"""Times as fast as the sensor's own clock says."""
BATTERY = """
[[item]]
action = "knee-extension"
side = "left"
method = "belt"

[[item]]
action = "knee-extension"
side = "right"
method = "belt"
"""


class Pusher:
    """A sensor that sends 1000 samples a second of its own clock, and the force on it, which rises over 1.3 of them."""

    def __init__(self, link):
        self._link, self._stop, self._pushed = link, threading.Event(), None
        self._now = 0.0
        self._plugged = threading.Lock()  # the wire is not pulled within a packet
        self.plug_in()
        self._thread = threading.Thread(target=self._play, daemon=True)
        self._thread.start()

    def push(self, newtons):
        self._pushed = (self._now, newtons)

    def let_go(self):
        self._pushed = None

    def plug_in(self):
        self._terminal = PseudoTerminal(self._link)

    def unplug(self):
        with self._plugged:
            self._terminal.close()
            self._terminal = None

    def close(self):
        self._stop.set()
        self._thread.join()
        if self._terminal is not None:
            self._terminal.close()

    def _force(self):
        if self._pushed is None:
            return 0.0
        began, newtons = self._pushed
        return newtons * min(1.0, (self._now - began) / RAMP_S)

    def _play(self):
        began, noise = time.monotonic(), np.random.default_rng(1)
        for n in range(100_000):
            self._now = 0.01 * n
            if self._stop.wait(max(0.0, began + self._now / SPEED - time.monotonic())):
                return
            counts = np.rint((self._force() + noise.normal(0.0, 0.1, 10)) * PER_N).astype(int).tolist()
            with self._plugged:
                if self._terminal is not None:
                    self._terminal.write(encode_packet(n % 65536, 10_000 * n % 2**32, counts, count_bits=24))


class Desk:
    """The program on a terminal, the keys, and the person."""

    def __init__(self, program, keys, person, out):
        self.program, self.keys, self.person, self.out = program, keys, person, out

    def press(self, key):
        os.write(self.keys, key.encode())

    def begin(self, times):
        """Press until the limb is taken to be in place: not before the zero is known."""
        end = time.monotonic() + 30.0
        while sum("GET READY" in line for line in self.program.out.seen) < times and time.monotonic() < end:
            self.press(" ")
            time.sleep(0.2)

    def until(self, text, times=1):
        return self.program.out.until(text, times)

    def trials(self):
        return read_session(self.out).trials


@pytest.fixture
def desk(started, tmp_path):
    protocol = (files("analysis") / "data" / "protocols" / "ramp-and-hold.toml").read_text()
    # what is said to the person goes by this computer's clock, on which a hold is as many times shorter
    shorter = {
        "rest_least_s = 60.0": "rest_least_s = 1.0",
        "rest_s = 90.0": "rest_s = 2.0",
        "hold_s = 5.0": "hold_s = 2.0",
    }
    for before, after in shorter.items():
        protocol = protocol.replace(before, after)
    (tmp_path / "short.toml").write_text(protocol.replace('"ramp-and-hold"', '"short-rests"'))
    (tmp_path / "battery.toml").write_text(BATTERY)
    ours, theirs = pty.openpty()
    person = Pusher(tmp_path / "tty")
    program = started(
        *("record", "--sensor", "packets-1k", "--port", tmp_path / "tty", "--out", tmp_path / "s.h5", "--trials", "1"),
        *("--battery", tmp_path / "battery.toml", "--protocol", tmp_path / "short.toml", "--examiner", "X1"),
        stdin=theirs,
    )
    program.err.until("Local rules and licensed practice decide")
    os.write(ours, b"\n")
    made = Desk(program, ours, person, tmp_path / "s.h5")
    made.until("IN PLACE?")
    yield made
    person.close()
    os.close(ours)
    os.close(theirs)


def effort(desk, times):
    """Push at the word, and let go when told to stop."""
    desk.until("GO", times)
    desk.person.push(200.0)
    desk.until("STOP", times)
    desk.person.let_go()


def test_battery_is_carried_through_by_keys(desk):
    assert desk.until("pad: ").strip() != "pad:"
    desk.begin(1)
    effort(desk, 1)
    desk.until("accepted")
    desk.until("IN PLACE?", 2)
    desk.until("now: knee extension, right, belt")
    desk.begin(2)
    effort(desk, 2)
    desk.until("accepted", 2)
    desk.until("All done.")
    desk.press(" ")
    result = desk.program.wait()
    assert result.code == 0
    assert [(t.context.side, t.verdict["verdict"]) for t in desk.trials()] == [
        ("left", "accepted"),
        ("right", "accepted"),
    ]


def test_each_key_does_what_it_says(desk):
    desk.press("p")
    desk.until("PAUSED")
    time.sleep(2.0 / SPEED)  # the zero is taken meanwhile
    desk.press(" ")
    desk.until("IN PLACE?", 2)
    desk.begin(1)
    desk.until("GO")
    desk.press("\x1b")  # the word is taken back
    desk.until("IN PLACE?", 3)
    desk.begin(2)
    desk.until("GO", 2)
    desk.person.push(200.0)
    desk.until("HOLD")
    desk.press("\x1b")  # the effort is ended
    desk.until("STOP")
    desk.person.let_go()
    desk.until("Ended: saved and set aside.")
    desk.until("set aside: ")
    desk.press("l")
    desk.until("to come")
    desk.press("s")
    desk.until("skipped: knee extension")
    desk.press("s")
    desk.until("All done.")
    desk.press("u")
    desk.until("IN PLACE?", 4)
    desk.press("r")
    desk.until("no trial to set aside now")
    desk.press("q")
    assert desk.program.wait().code == 0
    (trial,) = desk.trials()
    assert trial.set_aside[-1].reason == ProgramReason.HALTED
    assert len(read_session(desk.out).context.skipped) == 1


def test_trial_is_set_aside_with_the_reason_that_is_typed(desk):
    desk.begin(1)
    effort(desk, 1)
    desk.until("accepted")
    desk.press("r")
    desk.until("why is the last trial set aside?")
    desk.press("the pax\x7fd slipped\n")
    desk.until("IN PLACE?", 2)
    desk.press("q")
    assert desk.program.wait().code == 0
    (trial,) = desk.trials()
    assert (trial.is_aside, trial.set_aside[-1].reason, trial.set_aside[-1].by) == (True, "the pad slipped", "X1")


def test_note_is_kept_with_the_trial(desk):
    desk.begin(1)
    effort(desk, 1)
    desk.until("accepted")
    desk.press("n")
    desk.until("note: ")
    desk.press("sat up\x1b")  # not meant
    desk.press("nthe str\x1b[Dap was l\u00f6ose\n")  # an arrow is no key of ours
    desk.until("noted with the trial")
    desk.press("q")
    assert desk.program.wait().code == 0
    (trial,) = desk.trials()
    assert [(note.text, note.by) for note in trial.notes] == [("the strap was l\u00f6ose", "X1")]
    assert not trial.is_aside


def test_sensor_is_unplugged_in_mid_effort_and_the_battery_goes_on(desk):
    desk.begin(1)
    desk.until("GO")
    desk.person.push(200.0)
    desk.until("HOLD")
    desk.person.unplug()
    desk.until("NO SENSOR")
    desk.person.let_go()
    desk.person.plug_in()
    desk.until("IN PLACE?", 2)
    desk.begin(2)
    desk.until("GO", 2)
    desk.person.push(200.0)
    desk.until("STOP")
    desk.person.let_go()
    desk.until("accepted")
    desk.press("q")
    assert desk.program.wait().code == 0
    begun = sum("BUILD UP" in line for line in desk.program.out.seen)
    assert begun == 2, "the force before the loss is not the force now"
    broken, whole = desk.trials()
    assert broken.is_aside
    assert broken.damage
    assert (whole.is_aside, whole.verdict["verdict"]) == (False, "accepted")


def test_end_in_mid_hold_keeps_what_was_pushed(desk):
    desk.begin(1)
    desk.until("GO")
    desk.person.push(200.0)
    desk.until("HOLD")
    desk.press("q")
    assert desk.program.wait().code == 0
    (trial,) = desk.trials()
    assert trial.is_aside
    assert trial.trace().force.max() > 150.0
