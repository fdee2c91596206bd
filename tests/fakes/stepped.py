"""A session in the window's model without a thread and without a clock: the test gives the force, step by step."""

import numpy as np

from acquire.decoders import encode_line
from acquire.errors import LinkError, LinkFailure
from acquire.sensor.profile import Profile
from acquire.storage.journal import JournalWriter
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import LinkBack, LinkHeard, LinkLost, LinkSilent, Recorder
from acquire.stream.recovery import JournalHeader
from acquire.values.records import Person, TrialContext
from analysis.trial.protocol import load_protocol
from ui.session.crash import journal_path
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.live import LiveSession
from ui.session.store import new_context, open_store

RATE_HZ = 200.0
STEP_S = 0.05
PROFILE = Profile(
    name="stepped",
    title="a sensor that sends its own time and newtons",
    framing="lines",
    columns=("s", "n"),
    rate_hz=RATE_HZ,
    rated_force_n=1000.0,
    counts_per_newton=1.0,
)
LEFT, RIGHT = (TrialContext(action="elbow-flexion", side=side, method="hand") for side in ("left", "right"))


class NoLink:
    """A link that is never read."""

    port, finished, ended, trouble, radio = "COM3", False, False, None, None

    def close(self):
        pass


class SteppedRecorder(Recorder):
    """The real recorder, but that the test reads for it."""

    def start(self):
        self._thread.run = lambda: None
        super().start()

    def read(self, seconds, forces):
        self._take(seconds[-1], b"".join(encode_line((s, n)) for s, n in zip(seconds, forces, strict=True)))

    def lose(self):
        """Lose the sensor, as the recorder's thread does."""
        self._end("lost")
        self._events.put(LinkLost(LinkError("unplugged", port="COM3", reason=LinkFailure.UNPLUGGED)))

    def come_back(self):
        self.pipeline.reconnected()
        self._note("back")
        self._events.put(LinkBack())

    def fall_silent(self):
        self._events.put(LinkSilent(LinkError("stalled", port="COM3", reason=LinkFailure.STALLED)))

    def be_heard(self):
        self._events.put(LinkHeard())


class Stepped:
    """A session and the person on its sensor; `seconds` is the one clock of all."""

    def __init__(self, folder, *contexts, protocol=None, settle=True):
        self.protocol = protocol or load_protocol()
        self.path = folder / "session.h5"
        self.seconds, self.happened, self._samples = 0.0, [], 0
        self._noise = np.random.default_rng(4)
        context = new_context(person=Person(code="P-1"), examiner="X1", sensor="stepped", cautions=None)
        store = open_store(self.path, context, self.protocol, resume=self.path.exists())
        calibration = PROFILE.nominal_calibration()
        header = JournalHeader(
            session=context, profile=PROFILE, calibration=calibration, began=context.started, epoch=None
        )
        self.recorder = SteppedRecorder(
            NoLink(), Pipeline(PROFILE, calibration), journal=JournalWriter(journal_path(self.path), header)
        )
        self.engine = Engine(contexts or (LEFT,), self.protocol)
        self.engine.resume(store.session.trials)
        self.session = LiveSession(self.recorder, store, self.engine, clock=lambda: self.seconds)
        if settle:
            self.go(3.0)

    @property
    def cue(self):
        return self.engine.cue

    @property
    def stored(self):
        """The trials as they are kept in memory."""
        return self.session.store.session.trials

    def step(self, force=0.0):
        """Let a frame pass."""
        count = round(STEP_S * RATE_HZ)
        seconds = [(self._samples + i) / RATE_HZ for i in range(count)]
        self._samples += count
        self.recorder.read(seconds, (force + self._noise.normal(0.0, 0.1, count)).tolist())
        self.seconds += STEP_S
        self.tick()

    def leave_out_samples(self, seconds):
        """Let the sensor's time go on without a sample."""
        self._samples += round(seconds * RATE_HZ)

    def pass_(self, seconds):
        """Let time pass without a sample."""
        for _ in range(round(seconds / STEP_S)):
            self.seconds += STEP_S
            self.tick()

    def tick(self):
        self.happened += self.session.tick()

    def go(self, seconds, force=0.0):
        for _ in range(round(seconds / STEP_S)):
            self.step(force)

    def until(self, condition, force=0.0, limit_s=200.0):
        end = self.seconds + limit_s
        while not condition():
            assert self.seconds < end, "the condition did not come true in time"
            self.step(force)

    def ramp(self, newtons, seconds=1.5):
        for done in np.arange(STEP_S, seconds + STEP_S / 2, STEP_S):
            self.step(newtons * min(1.0, done / seconds))

    def push(self, newtons=200.0, *, hold_s=4.0):
        """Ramp up, hold, and let go; the trial is not cut yet."""
        self.ramp(newtons)
        self.go(hold_s, newtons)
        self.go(0.5)

    def trial(self, newtons=200.0):
        """Wait for the word to go, push, and wait until the trial is in the file."""
        if self.cue is Cue.PLACE:
            self.session.press()
        self.until(lambda: self.cue is Cue.GO)
        before = len(self.stored)
        self.push(newtons)
        self.until(lambda: len(self.stored) > before)
