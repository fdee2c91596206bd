"""A session that is being recorded, as window and command line drive it: one `tick` a look, one `press` for everything.

The recorder's thread fills ring and journal by itself; a tick only looks. So a window that hangs loses
nothing: the next tick finds all that happened meanwhile.

A guided trial is judged twice. Once at its release, from the ring, so that the verdict is there within a blink;
and once when the recorder has cut it, a second and a half later, with the zero after it. The second
verdict is the one that is stored.

A contact, which pressed the pad and is no effort, is kept beside the trials and counts for nothing; the word to go
stands. A trial counts when it was asked for and not broken off. What else is pushed is kept too, set aside by the
program with the reason, so that every later reader leaves it out and a person may take it back. Hands-free, each
effort counts.

A session file that cannot be written loses no trial: all are kept in memory and in the journal, saving is tried
again until it succeeds, and the journal goes only when the file holds everything.

A second sensor is recorded beside the first: its trials are judged and kept, and count for nothing.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from acquire.errors import AcquireError, ArchiveError, LinkDetail, LinkError, LinkFailure
from acquire.stream.recorder import (
    Failed,
    Finished,
    JournalTrouble,
    LinkBack,
    LinkHeard,
    LinkLost,
    LinkSilent,
    Recorder,
    RecorderEvent,
    StreamUnfit,
    TrialRecorded,
    Unsettled,
)
from acquire.stream.trial_detector import Phase
from acquire.values.records import SetAside, Trial, TrialContext
from acquire.values.remarks import ProgramReason, TrialEnd
from analysis.trial.contacts import press_of
from analysis.trial.judged_trial import JudgedTrial, judge_trial
from ui.session.crash import tidy_up, what_is_safe
from ui.session.cues import ASKED, Cue
from ui.session.decisions import Decisions
from ui.session.engine import Engine
from ui.session.events import ContactNoticed, CueChanged, SessionEvent, Trouble, TroubleSource, Verdict
from ui.session.force_view import ForceView
from ui.session.saving import Saving
from ui.session.store import PROGRAM, SessionStore, cut_off, set_aside_by_program
from ui.session.transitions import Event


class LiveSession:
    """One session while it is recorded.

    Parameters
    ----------
    recorder : Recorder
        Not yet started.
    store : SessionStore
        Where trials go.
    engine : Engine
        What is tried.
    second : Recorder, optional
        Of a second sensor, not yet started.
    plan : callable, optional
        Takes what the next trials are; without it the recorder gets them directly.
    on_cue : callable, optional
        Takes each cue; the invented person of the simulated sensor hears it here.
    clock : callable
        Monotonic seconds.
    """

    def __init__(
        self,
        recorder: Recorder,
        store: SessionStore,
        engine: Engine,
        *,
        second: Recorder | None = None,
        plan: Callable[[TrialContext], None] | None = None,
        on_cue: Callable[[Cue], None] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.recorder = recorder
        self.store = store
        self.engine = engine
        self.trials: list[JudgedTrial] = []
        """The trials of this run, as finally judged."""
        self.contacts: list[Trial] = []
        """The contacts of this run, those of the second sensor too."""
        self.contact_n: float | None = None
        """How hard the last contact pressed, N, until the next effort or press; None where there was none."""
        self.view = ForceView(recorder.pipeline)
        """The force now, and the curve of the last seconds."""
        self.force_n = 0.0
        self.on_cue = on_cue
        """Takes each cue."""
        self.busy = False
        """Whether no new trial begins by itself, since the examiner is busy with something else."""
        self.finished = False
        """Whether nothing more will come from the first sensor."""
        self.failure: AcquireError | None = None
        """Why the recorder cannot go on; what was recorded is kept."""
        self._second = second
        self._clock = clock
        self._awaiting_cut = self._halted = self._silent = False
        self._contact_told = False
        """Whether what is to be cut next was told to be a contact at its release."""
        self._shown = engine.cue
        self._saving = Saving(store, clock)
        self._stopped = False
        self._decisions = Decisions(store, engine)
        self._planned: TrialContext = engine.item.context
        self._set_plan = plan or recorder.plan
        self._set_plan(self._planned)
        recorder.start()
        if second is not None:
            second.start()

    def tick(self) -> list[SessionEvent]:
        """Look at what happened since the last tick, and let the cue follow."""
        happened: list[SessionEvent] = []
        while (event := self.recorder.next_event(0.0)) is not None:
            happened += self._take(event)
        happened += self._take_second()
        if self._saving.due:
            happened += self._saving.save()
        self.force_n = self.view.now_n()
        self.engine.see(self._clock(), self.force_n, ready=self.settled and not self.busy)
        if self.engine.trial_began is not None:
            self.contact_n = None
        if self.engine.trial_over:
            happened += self._judge_at_release()
        self._follow_item()
        if self.engine.cue is not self._shown:
            self._shown = self.engine.cue
            happened.append(CueChanged(self._shown))
            if self.on_cue is not None:
                self.on_cue(self._shown)
        return happened

    @property
    def settled(self) -> bool:
        """Whether the last effort has been cut: before that no new trial may begin, or two would become one."""
        return not self._awaiting_cut and self.recorder.pipeline.phase is not Phase.EFFORT

    @property
    def loaded(self) -> bool:
        """Whether something presses on the sensor that is no trial; none can begin before it is let go."""
        under_way = self._awaiting_cut or self.engine.trial_began is not None
        return not under_way and self.recorder.pipeline.phase is Phase.EFFORT

    @property
    def restless(self) -> bool:
        """Whether the sensor sends and has not been quiet yet, so that its zero is not known and no trial can begin."""
        pipeline = self.recorder.pipeline
        return bool(pipeline.ring.written) and pipeline.phase is Phase.SETTLING

    @property
    def complete(self) -> bool:
        """Whether every trial of the battery is done and cut, so that the session may be ended."""
        return self.engine.cue is Cue.DONE and not self._awaiting_cut

    @property
    def second_in_effort(self) -> bool:
        """Whether somebody pushes on the second sensor."""
        return self._second is not None and self._second.pipeline.phase is Phase.EFFORT

    def press(self) -> None:
        """Do the next sensible thing; nothing until the zero is known and the last effort has been cut."""
        if self.settled and self.recorder.pipeline.phase is not Phase.SETTLING:
            self.contact_n = None
            self.engine.handle(Event.PRESS)

    @property
    def force_now_n(self) -> float | None:
        """The force to show, N; None while no sensor tells it."""
        known = self.recorder.pipeline.ring.written and self.engine.cue is not Cue.LOST and not self._silent
        return self.force_n if known else None

    def into_effort(self) -> float:
        """Return how long ago the force left the zero, s; 0 before it has."""
        began = self.engine.trial_began
        return 0.0 if began is None else self._clock() - began

    def stop(self) -> list[SessionEvent]:
        """End the recording; the trial under way is judged and kept here."""
        if self._stopped:
            return []
        self._stopped = True
        happened = [event for trial in self.recorder.stop() if self._wanted for event in self._keep(trial)]
        over = not self._wanted
        others = [] if self._second is None else self._second.stop()
        happened += [self._keep_second(trial) for trial in others if not over or trial.broken_off is None]
        self.engine.handle(Event.LOST)
        self._saving.ask()
        return happened

    def close(self) -> None:
        """End the recording and save the session; the trial under way is judged and saved.

        Raises
        ------
        ArchiveError
            If the session cannot be saved. The journal then stays, and what is missing in the file is taken from
            it when the session is gone on with; until then, another call tries to save again.
        """
        self.stop()
        try:
            self.store.save()
        except ArchiveError as error:
            raise what_is_safe(error, self.store, journals=self._journals_complete) from error
        self._saving.done()
        tidy_up(self.store.journals_of)

    @property
    def _journals_complete(self) -> bool:
        second = self._second is None or self._second.journal_complete
        return second and self.recorder.journal_complete

    def halt(self) -> None:
        """End the trial under way at once, or take the word to go back; the recorder keeps what was pushed."""
        self._halted = self.engine.trial_began is not None and self.recorder.pipeline.phase is Phase.EFFORT
        self.engine.handle(Event.HALT)

    def pause(self) -> None:
        """Begin nothing new until the next press; an effort that is under way comes to its end first."""
        self.engine.handle(Event.PAUSE)

    def skip(self) -> list[SessionEvent]:
        """Leave the item as it is and go on to the next; the file keeps that, for whoever goes on with the session."""
        return self._saved(self.settled and self._decisions.skip())

    def undo(self, by: str = PROGRAM) -> list[SessionEvent]:
        """Take the last decision back: an item left out, a trial set aside or ended. Not while somebody pushes.

        Parameters
        ----------
        by : str
            Who takes it back.
        """
        return self._saved(self.settled and self._decisions.undo(by))

    def repeat(self, context: TrialContext) -> list[SessionEvent]:
        """Try an item once more that is complete, or was left out; not while somebody pushes."""
        return self._saved(self.settled and self._decisions.repeat(context))

    @property
    def to_set_aside(self) -> int | None:
        """Which trial of the session would be set aside now: the last that counted.

        None while there is none, one is under way, or it is set aside already.
        """
        return self._decisions.to_set_aside if self.settled else None

    def set_aside(self, index: int, decision: SetAside) -> list[SessionEvent]:
        """Set a trial of the session aside: it is kept, with the reason, and its item is tried again."""
        self._decisions.set_aside(index, decision)
        return self._saving.save()

    def note(self, text: str, by: str = PROGRAM) -> list[SessionEvent]:
        """Keep a note with the trial under way, else with the last one; before the first, with that.

        Parameters
        ----------
        text : str
            What there is to say of it.
        by : str
            Who says it.
        """
        under_way = not self.settled or self.engine.trial_began is not None
        return self._saved(self._decisions.note(text, by, under_way=under_way))

    def _saved(self, changed: bool) -> list[SessionEvent]:
        """Save where a decision has changed the session."""
        return self._saving.save() if changed else []

    def _judge_at_release(self) -> list[SessionEvent]:
        trial = self._so_far()
        if trial is None:  # too weak or too short for the detector: nothing was recorded
            self.engine.handle(Event.NOTHING)
            return []
        if self.store.is_contact(trial):
            self._contact_told = True
            self.engine.handle(Event.NOTHING)
            return [self._notice(trial)]
        judged = judge_trial(trial, self.store.protocol)
        self._awaiting_cut = True
        self.engine.take(judged.judgement)
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
            context=self.engine.item.context,
        )

    def _follow_item(self) -> None:
        """Tell the recorder what the next trial is, once the last one has been cut."""
        if self.settled and self.engine.trial_began is None:
            self._plan()

    def _plan(self) -> None:
        context = self.engine.item.context
        if context is not self._planned:
            self._planned = context
            self._set_plan(context)

    def _take(self, event: RecorderEvent) -> list[SessionEvent]:
        if isinstance(event, TrialRecorded):
            return self._recorded(event.trial)
        if isinstance(event, JournalTrouble):
            return [Trouble(event.error, TroubleSource.JOURNAL)]
        if isinstance(event, Unsettled | StreamUnfit):  # `restless` tells when the first is over
            return [event]
        return [Trouble(self._of_link(event))]

    def _of_link(self, event: LinkLost | LinkBack | LinkSilent | LinkHeard | Finished | Failed) -> AcquireError | None:
        """Take what happened to the link; return what is wrong with it, None where nothing is any more."""
        if isinstance(event, LinkBack):
            self._silent = False
            self.engine.handle(Event.BACK)
            return None
        if isinstance(event, LinkLost | Failed):
            self._awaiting_cut = self._contact_told = False
            self.view.lose()
            self.failure = event.error if isinstance(event, Failed) else None
            self.finished = isinstance(event, Failed)
            self.engine.handle(Event.LOST)
            return event.error
        if isinstance(event, Finished):
            self.finished = True
            self.engine.handle(Event.LOST)
            return LinkError(
                "the sensor has nothing more to send",
                port="",
                reason=LinkFailure.STALLED,
                detail=LinkDetail.NOTHING_MORE,
            )
        self._silent = isinstance(event, LinkSilent)
        return event.error if isinstance(event, LinkSilent) else None

    def _take_second(self) -> list[SessionEvent]:
        """Take what happened on the second sensor; without it the first goes on."""
        happened: list[SessionEvent] = []
        while self._second is not None and (event := self._second.next_event(0.0)) is not None:
            if isinstance(event, TrialRecorded):
                happened += [self._keep_second(event.trial), *self._saving.save()]
            elif isinstance(event, Failed | Finished):
                self.finished = True
                self.failure = event.error if isinstance(event, Failed) else self.failure
            elif isinstance(event, JournalTrouble):
                happened.append(Trouble(event.error, TroubleSource.JOURNAL))
            elif isinstance(event, Unsettled | StreamUnfit):
                happened.append(event)
            else:
                error = event.error if isinstance(event, LinkLost | LinkSilent) else None
                happened.append(Trouble(error, TroubleSource.SECOND_SENSOR))
        return happened

    def _keep_second(self, trial: Trial) -> SessionEvent:
        if self.store.is_contact(trial):
            return self._keep_contact(trial, second=True)
        judged = self.store.take(set_aside_by_program(trial, cut_off(trial, self.store.protocol)))
        self.trials.append(judged)
        return Verdict(judged, final=True, second=True)

    @property
    def _wanted(self) -> bool:
        """Whether an effort on the first sensor is kept: hands-free, not after the last one that was asked for."""
        return not (self.engine.hands_free and self.engine.cue is Cue.DONE)

    def _recorded(self, trial: Trial) -> list[SessionEvent]:
        return [*self._keep(trial), *self._saving.save()] if self._wanted else []

    def _keep(self, trial: Trial) -> list[SessionEvent]:
        """Keep what has been cut, as a trial or as a contact, which may have been told already."""
        told, self._contact_told = self._contact_told, False
        decided = self._awaiting_cut or self._halted
        if not decided and (told or self.store.is_contact(trial)):
            noticed = self._keep_contact(trial)
            return [] if told else [noticed]
        return [self._keep_trial(trial)]

    def _keep_contact(self, contact: Trial, *, second: bool = False) -> ContactNoticed:
        self.store.take_contact(contact)
        self.contacts.append(contact)
        return self._notice(contact, second=second)

    def _notice(self, contact: Trial, *, second: bool = False) -> ContactNoticed:
        peak = press_of(contact.trace(), self.store.protocol).peak_n
        if not second:
            self.contact_n = peak
        return ContactNoticed(peak, second=second)

    def _keep_trial(self, trial: Trial) -> Verdict:
        """Judge a trial that has been cut, and count it or set it aside."""
        reason = self._why_not(trial)
        trial = set_aside_by_program(trial, reason)
        trial = self._decisions.with_notes(trial)
        stored = len(self.store.session.trials)
        if reason is ProgramReason.HALTED:
            self._decisions.remember(stored)
        judged = self.store.take(trial)
        self.trials.append(judged)
        changed = False
        if self._awaiting_cut:
            changed = self.engine.correct(judged.judgement, stored)
        elif reason is None:
            self.engine.take(judged.judgement, stored)
        self._awaiting_cut = self._halted = False
        self.contact_n = None
        return Verdict(judged, final=True, changed=changed)

    def _why_not(self, trial: Trial) -> ProgramReason | TrialEnd | None:
        """Return why a trial does not count; None when it does."""
        if self._awaiting_cut:  # it was counted at its release
            return None
        if self._halted:
            return ProgramReason.HALTED
        if self.engine.cue is not Cue.RECORD and self.engine.cue not in ASKED:
            return ProgramReason.STRAY
        return cut_off(trial, self.store.protocol)
