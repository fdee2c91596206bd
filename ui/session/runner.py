"""The battery runner: carries a whole battery through by itself, with one key for everything.

It knows which item is tried now, when the person has rested, what each trial came to, and what the next
sensible thing is. It opens nothing and knows no clock: `see` is told the time. Trials of the two sides
alternate, so that one side rests while the other works.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import msgspec

from acquire.stream.recorder import CRASHED
from acquire.values.records import Trial, TrialContext
from analysis.results.sets import SetState, set_state
from analysis.trial.faults import Fault
from analysis.trial.protocol import Protocol
from analysis.trial.verdict import Judgement
from ui.session.cues import Cue, TrialCues

BETWEEN = frozenset({Cue.PLACE, Cue.REST})
"""Nobody pushes in these, so that the plan may change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What one trial came to, as the runner needs it."""

    verdict: str
    plateau_n: float | None
    codes: tuple[str, ...]
    fault: Fault | None = None
    """The first fault, the cause of the others; None when there is none, or the trial is from the file."""
    stored: int | None = None
    """Which trial of the session file it is; None until the trial has been cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemState:
    """One item of the battery and how far its set has come."""

    context: TrialContext
    results: tuple[Result, ...] = ()
    last_end: float | None = None
    """When its last trial ended, on the clock."""
    skipped: bool = False

    def plateaus(self) -> list[float]:
        """Return the plateau forces of the accepted trials, N."""
        return [r.plateau_n for r in self.results if r.verdict == "accepted" and r.plateau_n is not None]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """All that the window needs to show of a battery."""

    cue: Cue
    item: ItemState
    fault: Fault | None
    """What the last trial broke first, until the next one begins."""
    last: TrialContext | None
    """What the last trial was, until the next one begins."""
    seconds: float
    """Left of the rest, or of the hold that is done; 0 when it does not matter."""
    least_s: float
    """Left of the least rest, before which no trial begins."""
    fraction: float
    """How much of the hold or the rest is done, 0 to 1."""
    set: SetState
    done: int
    """Items whose sets are complete."""
    items: int


@dataclass(slots=True)
class BatteryRunner:
    """Run a battery.

    Parameters
    ----------
    contexts : sequence of TrialContext
        The items, in order; items of the same action that follow one another alternate.
    protocol : Protocol
        Cue times, set rule, rest.
    """

    contexts: Sequence[TrialContext]
    protocol: Protocol
    items: list[ItemState] = field(init=False)
    cue: Cue = field(init=False, default=Cue.PLACE)
    fault: Fault | None = field(init=False, default=None)
    last_stored: int | None = field(init=False, default=None)
    """Which trial of the session file was the last that counted; None before it has been cut, and when the last one
    was broken off: that one is out already."""
    _last: TrialContext | None = field(init=False, default=None)
    _at: int = field(init=False, default=0)
    _counted: Result | None = field(init=False, default=None)
    _counted_at: int = field(init=False, default=0)
    _cues: TrialCues | None = field(init=False, default=None)
    _now: float = field(init=False, default=0.0)
    _before_loss: Cue = field(init=False, default=Cue.PLACE)

    def __post_init__(self) -> None:
        if not self.contexts:
            raise ValueError("contexts must hold at least one item")
        self.items = [ItemState(context=context) for context in self.contexts]

    @property
    def item(self) -> ItemState:
        """The item that is tried now."""
        return self.items[self._at]

    @property
    def trial_over(self) -> bool:
        """Whether the force of the trial under way has been released, so that it can be judged."""
        return self._cues is not None and self._cues.over

    @property
    def trial_began(self) -> float | None:
        """When the force of the trial under way left the zero, on the clock; None before it has."""
        return None if self._cues is None else self._cues.began

    def resume(self, trials: Sequence[Trial], *, skipped: Sequence[TrialContext] = ()) -> None:
        """Count the trials of a session that is gone on with, and leave out what was left out.

        Trials set aside do not count, nor those that a crash broke off before they were any good. An item that went
        on with a belt does so again.
        """
        for stored, trial in enumerate(trials):
            self._count(trial, stored)
        for context in skipped:
            for place in self._places(context):
                self.items[place] = replace(self.items[place], skipped=True)
        left = [i for i, item in enumerate(self.items) if not self._complete(item)]
        self._at = left[0] if left else self._at
        self.cue = Cue.PLACE if left else Cue.DONE

    def _count(self, trial: Trial, stored: int) -> None:
        if trial.is_aside or trial.verdict is None:
            return
        if CRASHED in trial.damage and trial.verdict["verdict"] != "accepted":
            return
        result = result_of_stored(trial.verdict, stored)
        for place in self._places(trial.context):
            item = self.items[place]
            self.items[place] = replace(item, results=(*item.results, result))
            if self._too_strong(place, result):
                self._to_belt(place)

    def _places(self, context: TrialContext) -> list[int]:
        """Return where in the battery an item stands."""
        return [place for place, item in enumerate(self.items) if _same_item(item.context, context)]

    def view(self) -> View:
        """Return what to show."""
        rest = self.rest_left(self._now)
        held = self._cues.held(self._now) if self._cues else 0.0
        fraction = self._cues.fraction(self._now) if self._cues else 0.0
        if self.cue is Cue.REST:
            fraction = 1.0 - rest / max(self.protocol.set.rest_s, 1e-9)
        return View(
            cue=self.cue,
            item=self.item,
            fault=self.fault,
            last=self._last,
            seconds=rest if self.cue is Cue.REST else held,
            least_s=self._least_left(),
            fraction=min(1.0, max(0.0, fraction)),
            set=self._state(self.item),
            done=sum(self._complete(item) for item in self.items),
            items=len(self.items),
        )

    def see(self, now: float, force_n: float, *, ready: bool = True) -> Cue:
        """Take the force at a moment; the cue may move on, but to no new trial unless all is `ready` for one."""
        self._now = now
        if self.cue is Cue.REST and ready and self.rest_left(now) <= 0.0:
            self._get_set()
        if self._cues is not None and not self._cues.over:
            self.cue = self._cues.see(now, force_n)
        return self.cue

    def press(self) -> Cue:
        """Do the next sensible thing."""
        if self.cue is Cue.PLACE or (self.cue is Cue.REST and self._least_left() <= 0.0):
            self._get_set()
        return self.cue

    def take(self, judgement: Judgement, stored: int | None = None) -> None:
        """Count a finished trial and go on to what follows it; `stored` says which trial of the file it is."""
        result = result_of(judgement, stored)
        item = self.items[self._at]
        self.items[self._at] = replace(item, results=(*item.results, result), last_end=self._now)
        self._cues = None
        self._counted, self._counted_at, self._last = result, self._at, item.context
        self.last_stored, self.fault = stored, result.fault
        self._follow_result(self._at, result)

    def correct(self, judgement: Judgement, stored: int | None = None) -> bool:
        """Replace what the last trial came to, now that it has been cut; return whether the verdict is another one.

        What followed from the first verdict follows anew from this one: no trial has begun since.
        """
        result, before, at = result_of(judgement, stored), self._counted, self._counted_at
        self._counted, self.last_stored = result, stored
        item = self.items[at]
        if item.results:  # it was not begun anew with a belt
            self.items[at] = replace(item, results=(*item.results[:-1], result))
            if self.cue in {*BETWEEN, Cue.DONE}:
                self.fault = result.fault
                self._follow_result(at, result)
        return before is not None and before.verdict != result.verdict

    def _follow_result(self, at: int, result: Result) -> None:
        """Choose what follows a trial of an item."""
        self._at = at
        if self._too_strong(at, result):
            self._to_belt(at)
            self.cue = Cue.PLACE
        else:
            self._go_on()

    def _too_strong(self, at: int, result: Result) -> bool:
        """Tell whether a trial held by hand went beyond what its examiner can hold."""
        return "examiner-limit" in result.codes and self.items[at].context.method == "hand"

    def again(self) -> None:
        """Begin the trial under way anew: what looked like an effort was none."""
        self._get_set()

    def lost(self) -> None:
        """Stop for a sensor that is gone; the trial under way does not count."""
        if self.cue not in {Cue.LOST, Cue.DONE}:
            self._before_loss = self.cue if self.cue in BETWEEN else Cue.PLACE
            self._break_off(Cue.LOST)

    def back(self) -> None:
        """Go on where the sensor was lost."""
        if self.cue is Cue.LOST:
            self.cue = self._before_loss

    def halt(self) -> None:
        """End the trial under way at once, for pain or whatever else: it is kept, and does not count."""
        if self._cues is not None:
            self._break_off(Cue.PLACE)

    def _break_off(self, cue: Cue) -> None:
        if self._cues is not None:
            self._cues, self.last_stored = None, None
        self.cue = cue

    def skip(self) -> None:
        """Leave the item as it is and go on to the next; not while somebody pushes."""
        if self.cue in BETWEEN:
            self.items[self._at] = replace(self.item, skipped=True)
            self._go_on()

    def uncount(self, stored: int) -> None:
        """Take a trial of the session file out of its set, as it was set aside; its item is next unless one pushes."""
        for place, item in enumerate(self.items):
            kept = tuple(result for result in item.results if result.stored != stored)
            if len(kept) < len(item.results):
                self.items[place] = replace(item, results=kept)
                if self.cue in {*BETWEEN, Cue.DONE}:
                    self._at, self.fault = place, None
                    self._go_on()

    def rest_left(self, now: float) -> float:
        """Return how long the item's muscle still rests, s."""
        last = self.item.last_end
        return 0.0 if last is None else max(0.0, last + self.protocol.set.rest_s - now)

    def _least_left(self) -> float:
        """Return how long the muscle rests at least: rest may be cut short, but not below that."""
        last = self.item.last_end
        return 0.0 if last is None else max(0.0, last + self.protocol.set.rest_least_s - self._now)

    def _get_set(self) -> None:
        self._cues, self.cue = TrialCues(self.protocol), Cue.SET
        self.fault = self._last = None

    def _to_belt(self, at: int) -> None:
        """Begin an item anew with a belt: forces held by hand and by belt do not mix."""
        item = self.items[at]
        self.items[at] = ItemState(context=msgspec.structs.replace(item.context, method="belt"), last_end=item.last_end)

    def _go_on(self) -> None:
        """Choose the next item and the cue that leads to it."""
        here = self.item.context
        station = [i for i, item in enumerate(self.items) if _same_station(item.context, here)]
        open_here = [i for i in station if not self._complete(self.items[i])]
        if open_here:
            # the one that has rested longest
            self._at = min(open_here, key=lambda i: (self.items[i].last_end or -1.0, i))
            self.cue = Cue.REST if self.item.last_end is not None else Cue.PLACE
            return
        left = [i for i, item in enumerate(self.items) if not self._complete(item)]
        self.cue = Cue.PLACE if left else Cue.DONE
        self._at = left[0] if left else self._at

    def _state(self, item: ItemState) -> SetState:
        return set_state(item.plateaus(), len(item.results), self.protocol.set)

    def _complete(self, item: ItemState) -> bool:
        return item.skipped or self._state(item).complete


def _same_item(one: TrialContext, other: TrialContext) -> bool:
    return (one.action, one.side, one.method) == (other.action, other.side, other.method)


def _same_station(one: TrialContext, other: TrialContext) -> bool:
    return one.action == other.action


def result_of_stored(verdict: Mapping[str, Any], stored: int) -> Result:
    """Return what the verdict of a stored trial means for the runner."""
    faults = verdict["faults"]
    return Result(
        verdict=verdict["verdict"],
        plateau_n=verdict["plateau_force_n"],
        codes=tuple(fault["code"] for fault in faults),
        stored=stored,
    )


def result_of(judgement: Judgement, stored: int | None) -> Result:
    """Return what a judgement means for the runner."""
    faults = judgement.faults
    return Result(
        verdict=judgement.verdict,
        plateau_n=judgement.measures.plateau_force_n,
        codes=tuple(fault.code for fault in faults),
        fault=faults[0] if faults else None,
        stored=stored,
    )
