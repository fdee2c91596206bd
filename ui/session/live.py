"""A session that is being recorded, as the window drives it: one `tick` a frame, one `press` for everything.

The recorder's thread fills ring and journal by itself; a tick only looks. So a window that hangs loses
nothing: the next tick finds all that happened meanwhile.

A trial is judged twice. Once at its release, from the ring, so that the verdict is there within a blink;
and once when the recorder has cut it, a second and a half later, with the zero after it. The second
verdict is the one that is stored.

A trial counts when it was asked for and not broken off. What else is pushed is kept too, set aside by the program
with the reason, so that every later reader leaves it out and a person may take it back.

A session file that cannot be written loses no trial: all are kept in memory and in the journal, saving is tried
again until it succeeds, and the journal goes only when the file holds everything.
"""

from __future__ import annotations

import enum
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from acquire.errors import AcquireError, ArchiveError, LinkError, LinkFailure
from acquire.stream.recorder import (
    Failed,
    Finished,
    LinkBack,
    LinkLost,
    LinkSilent,
    Recorder,
    RecorderEvent,
    TrialRecorded,
    Unsettled,
    broken_off,
)
from acquire.stream.trial_detector import Phase
from acquire.values.arrays import FloatArray
from acquire.values.records import GAP_STEPS, SetAside, Trial, TrialContext
from ui.session.crash import journal_path
from ui.session.cues import Cue
from ui.session.judged import JudgedTrial, judge_trial
from ui.session.runner import BETWEEN, BatteryRunner
from ui.session.store import SessionStore
from ui.words.local_time import local_now

FORCE_S = 0.05
"""The number shown is the mean of this long."""

PROGRAM = "Ramphold"
"""Who sets a trial aside that does not count."""
STRAY = "pushed while no trial was asked for"
HALTED = "ended by the examiner before its time"

ASKED = frozenset({Cue.SET, Cue.GO, Cue.BUILD, Cue.HOLD, Cue.STOP})
"""What is pushed under these is a trial; a window that hung may still show the first when it is over."""

SAVE_AGAIN_S = 3.0
"""A session that could not be saved is tried again after so long."""


@dataclass(frozen=True, slots=True)
class CueChanged:
    """Another cue is shown; a sound may go with it."""

    cue: Cue


@dataclass(frozen=True, slots=True)
class Verdict:
    """A trial has been judged, for the first time (`final` is false) or for good."""

    judged: JudgedTrial
    final: bool
    changed: bool = False
    """Whether the final verdict is another than the first, which was told already."""


class Ailing(enum.Enum):
    """What is in trouble; each has its own, and one may be over before the other."""

    SENSOR = "sensor"
    FILE = "file"


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something is in trouble, or no longer."""

    error: AcquireError | None
    """What is wrong; None when the trouble is over."""
    of: Ailing = Ailing.SENSOR


Happening = CueChanged | Verdict | Trouble


class LiveSession:
    """One session in the window.

    Parameters
    ----------
    recorder : Recorder
        Not yet started.
    store : SessionStore
        Where trials go.
    runner : BatteryRunner
        What is tried.
    hear : callable, optional
        Is told each cue; the invented person of the simulated sensor listens here.
    clock : callable
        Monotonic seconds.
    """

    def __init__(
        self,
        recorder: Recorder,
        store: SessionStore,
        runner: BatteryRunner,
        *,
        hear: Callable[[Cue], None] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.recorder = recorder
        self.store = store
        self.runner = runner
        self.trials: list[JudgedTrial] = []
        """The trials of this run, as finally judged."""
        self.force_n = 0.0
        self._clock = clock
        self.hear = hear
        """Is told each cue."""
        self._awaiting_cut = self._halted = self._silent = False
        self._shown = runner.cue
        self.paused = False
        """Whether no new trial begins by itself, since the examiner is busy with something else."""
        self._save_at: float | None = None
        self._ended = False
        self._planned: TrialContext = runner.item.context
        recorder.plan(runner.item.context)
        recorder.start()

    def tick(self) -> list[Happening]:
        """Look at what happened since the last tick, and let the cue follow."""
        happened: list[Happening] = []
        while (event := self.recorder.next_event(0.0)) is not None:
            happened += self._take(event)
        if self._save_at is not None and self._clock() >= self._save_at:
            happened += self._save()
        self._look()
        self.runner.see(self._clock(), self.force_n, ready=self.settled and not self.paused)
        if self.runner.trial_over:
            happened += self._judge_at_release()
        self._follow_item()
        if self.runner.cue is not self._shown:
            self._shown = self.runner.cue
            happened.append(CueChanged(self._shown))
            if self.hear is not None:
                self.hear(self._shown)
        return happened

    @property
    def settled(self) -> bool:
        """Whether the last effort has been cut: before that no new trial may begin, or two would become one."""
        return not self._awaiting_cut and self.recorder.pipeline.phase is not Phase.EFFORT

    @property
    def loaded(self) -> bool:
        """Whether something presses on the sensor that is no trial; none can begin before it is let go."""
        under_way = self._awaiting_cut or self.runner.trial_began is not None
        return not under_way and self.recorder.pipeline.phase is Phase.EFFORT

    @property
    def restless(self) -> bool:
        """Whether the sensor sends and has not been quiet yet, so that its zero is not known and no trial can begin."""
        pipeline = self.recorder.pipeline
        return bool(pipeline.ring.written) and pipeline.phase is Phase.SETTLING

    @property
    def complete(self) -> bool:
        """Whether every trial of the battery is done and cut, so that the session may be ended."""
        return self.runner.cue is Cue.DONE and not self._awaiting_cut

    def press(self) -> None:
        """Do the next sensible thing; nothing until the zero is known and the last effort has been cut."""
        if self.settled and self.recorder.pipeline.phase is not Phase.SETTLING:
            self.runner.press()

    def recent(self, seconds: float) -> tuple[FloatArray, FloatArray]:
        """Return time (0 is now) and force of the last `seconds` of the stream; a NaN where samples are lost."""
        pipeline = self.recorder.pipeline
        # by count first, not by time: the ring holds minutes, and this is asked for with every frame
        part = pipeline.ring.since(pipeline.ring.written - round(seconds * pipeline.profile.rate_hz))
        time = part.time - (part.time[-1] if len(part.time) else 0.0)
        late = int(np.searchsorted(time, -seconds))
        time, counts = time[late:], part.counts[late:]
        force = pipeline.calibration.force(counts, zero_counts=pipeline.zero_counts)
        # one for each gap, however long: it only breaks the line
        gaps = np.flatnonzero(np.diff(time) * pipeline.profile.rate_hz > GAP_STEPS) + 1
        if not len(gaps):
            return time, force
        return np.insert(time, gaps, (time[gaps - 1] + time[gaps]) / 2.0), np.insert(force, gaps, np.nan)

    @property
    def force_now_n(self) -> float | None:
        """The force to show, N; None while no sensor tells it."""
        told = self.recorder.pipeline.ring.written and self.runner.cue is not Cue.LOST and not self._silent
        return self.force_n if told else None

    def into_effort(self) -> float:
        """Return how long ago the force left the zero, s; 0 before it has."""
        began = self.runner.trial_began
        return 0.0 if began is None else self._clock() - began

    def close(self) -> None:
        """End the recording; the trial under way is judged and saved.

        Raises
        ------
        ArchiveError
            If the session cannot be saved. The journal then stays, and what is missing in the file is taken from
            it when the session is gone on with; until then, another call tries to save again.
        """
        if not self._ended:
            self._ended = True
            for trial in self.recorder.stop():
                self._keep(trial)
            self.runner.lost()
            self._save_at = self._clock()
        self.store.save()
        self._save_at = None
        journal_path(self.store.path).unlink(missing_ok=True)

    def halt(self) -> None:
        """End the trial under way at once; the recorder keeps it, and it does not count."""
        self._halted = self.recorder.pipeline.phase is Phase.EFFORT
        self.runner.halt()

    def skip(self) -> list[Happening]:
        """Leave the item as it is and go on to the next; the file keeps that, for whoever goes on with the session."""
        if not (self.settled and self.runner.cue in BETWEEN):
            return []
        self.store.leave_out(self.runner.item.context)
        self.runner.skip()
        return self._save()

    @property
    def to_set_aside(self) -> int | None:
        """Which trial of the session would be set aside now: the last that counted.

        None while there is none, one is under way, or it is set aside already.
        """
        last, idle = self.runner.last_stored, self.settled and self.runner.cue in {*BETWEEN, Cue.DONE}
        return last if idle and last is not None and not self.store.session.trials[last].is_aside else None

    def set_aside(self, index: int, decision: SetAside) -> list[Happening]:
        """Set a trial of the session aside: it is kept, with the reason, and its item is tried again."""
        self.store.decide(index, decision)
        self.runner.uncount(index)
        return self._save()

    def _look(self) -> None:
        """Take the force now: the mean of the last samples, 0 before there are any."""
        pipeline = self.recorder.pipeline
        count = max(1, round(FORCE_S * pipeline.profile.rate_hz))
        part = pipeline.ring.since(pipeline.ring.written - count)
        if len(part.counts):
            force = pipeline.calibration.force(part.counts, zero_counts=pipeline.zero_counts)
            self.force_n = float(np.mean(force))

    def _judge_at_release(self) -> list[Happening]:
        trial = self._so_far()
        if trial is None:  # too weak or too short for the cutter: nothing was recorded
            self.runner.again()
            return []
        judged = judge_trial(trial, self.store.protocol)
        self._awaiting_cut = True
        self.runner.take(judged.judgement)
        return [Verdict(judged, final=False)]

    def _so_far(self) -> Trial | None:
        """Return the effort under way as a trial, as far as it has come."""
        pipeline = self.recorder.pipeline
        began = pipeline.effort_began
        if began is None:
            return None
        part = pipeline.ring.between(began, pipeline.now)
        if not len(part.time):
            return None
        return Trial(
            time=part.time,
            counts=part.counts,
            calibration=pipeline.calibration,
            zero_counts=pipeline.zero_counts,
            context=self.runner.item.context,
        )

    def _follow_item(self) -> None:
        """Tell the recorder what the next trial is, once the last one has been cut."""
        if self.settled and self.runner.trial_began is None:
            self._plan()

    def _plan(self) -> None:
        context = self.runner.item.context
        if context is not self._planned:
            self._planned = context
            self.recorder.plan(context)

    def _take(self, event: RecorderEvent) -> list[Happening]:
        if isinstance(event, TrialRecorded):
            return self._recorded(event.trial)
        if isinstance(event, LinkBack):
            self._silent = False
            self.runner.back()
            return [Trouble(None)]
        if isinstance(event, LinkLost | Failed):
            self._awaiting_cut = False
            self.runner.lost()
            return [Trouble(event.error)]
        if isinstance(event, Finished):
            self.runner.lost()
            return [Trouble(LinkError("the sensor has nothing more to send", port="", reason=LinkFailure.STALLED))]
        if isinstance(event, Unsettled):  # seen in `restless`, and over without an event
            return []
        self._silent = isinstance(event, LinkSilent)
        return [Trouble(event.error if isinstance(event, LinkSilent) else None)]

    def _recorded(self, trial: Trial) -> list[Happening]:
        return [self._keep(trial), *self._save()]

    def _keep(self, trial: Trial) -> Verdict:
        """Judge a trial that has been cut, and count it or set it aside."""
        reason = self._why_not(trial)
        if reason is not None:
            decision = SetAside(aside=True, reason=reason, by=PROGRAM, at=local_now())
            trial = replace(trial, set_aside=(decision,))
        stored = len(self.store.session.trials)
        judged = self.store.take(trial)
        self.trials.append(judged)
        changed = False
        if self._awaiting_cut:
            changed = self.runner.correct(judged.judgement, stored)
        elif reason is None:
            self.runner.take(judged.judgement, stored)
        self._awaiting_cut = self._halted = False
        return Verdict(judged, final=True, changed=changed)

    def _why_not(self, trial: Trial) -> str | None:
        """Return why a trial does not count; None when it does."""
        if self._awaiting_cut:  # it was counted at its release
            return None
        if self._halted:
            return HALTED
        if self.runner.cue not in ASKED:
            return STRAY
        return broken_off(trial)

    def _save(self) -> list[Happening]:
        """Save the session; when that fails it is told, and tried again later."""
        try:
            self.store.save()
        except ArchiveError as error:
            self._save_at = self._clock() + SAVE_AGAIN_S
            return [Trouble(error, Ailing.FILE)]
        was, self._save_at = self._save_at, None
        return [] if was is None else [Trouble(None, Ailing.FILE)]
