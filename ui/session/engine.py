"""The engine of a session: it follows the table of transitions, for the window and for the command line alike.

It knows what is tried now, when the person has rested, what each trial came to, and what comes next. It opens nothing,
prints nothing and knows no clock: `see` takes the time. What may happen in which state stands in
`ui.session.transitions`, and what the battery needs next in `ui.session.battery_progress`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.values.records import Trial, TrialContext
from analysis.results.sets import SetState
from analysis.trial.faults import Fault
from analysis.trial.protocol import Protocol, SetRule
from analysis.trial.verdict import Judgement
from ui.session.battery_progress import BatteryProgress, ItemState, Result, identity, result_of
from ui.session.cues import ASKED, EFFORT, TRIAL, Cue
from ui.session.effort_watch import EffortWatch
from ui.session.transitions import TABLE, Choice, Effect, Event


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """All that there is to show of a battery."""

    cue: Cue
    item: ItemState
    fault: Fault | None
    """What the last trial broke first, until the next one begins."""
    last: TrialContext | None
    """What the last trial was, until the next one begins."""
    halted: bool
    """Whether the last effort was ended by the examiner, until the next one begins."""
    seconds: float
    """Left of the rest, or of the hold that is done; 0 when it does not matter."""
    least_s: float
    """Left of the least rest, before which no trial begins."""
    fraction: float
    """How much of the hold or the rest is done, 0 to 1."""
    set: SetState | None
    """Where the set stands; None where there is no rule for sets."""
    done: int
    """Items whose sets are complete; those left out are not among them."""
    left_out: int
    items: int
    battery: tuple[ItemState, ...]
    """The items themselves."""
    level_s: float | None
    """How long the ramp of the trial under way took, s; None before it is over."""


class Engine:
    """Carry a battery through.

    Parameters
    ----------
    contexts : sequence of TrialContext
        The items, in order.
    protocol : Protocol
        Cue times, set rule, rest.
    hands_free : bool
        Whether each effort is a trial, with no word to go and no rest, one item after the other.
    alternate : bool
        Whether the sides of an action take turns; hands-free they never do.
    rule : SetRule, optional
        For sets recorded hands-free; without one the first item goes on and on. Guided, it is that of the protocol.
    count : int, optional
        Hands-free, after so many trials all is done.
    """

    def __init__(
        self,
        contexts: Sequence[TrialContext],
        protocol: Protocol,
        *,
        hands_free: bool = False,
        alternate: bool = True,
        rule: SetRule | None = None,
        count: int | None = None,
    ) -> None:
        self.protocol = protocol
        self.hands_free = hands_free
        self.battery = BatteryProgress(
            contexts,
            rule if hands_free else protocol.set,
            alternate=alternate and not hands_free,
            to_belt=not hands_free,
        )
        self.cue = Cue.RECORD if hands_free else Cue.PLACE
        self.fault: Fault | None = None
        self.halted = False
        """Whether the last effort was ended by the examiner; until the next one begins."""
        self.trial_over = False
        """Whether the force of the trial under way has been released, so that it can be judged."""
        self.last_stored: int | None = None
        """Which trial of the session file was the last that counted; None before it has been cut, and when the last
        one was broken off: that one is out already."""
        self._count, self._counted_trials = count, 0
        self._last: TrialContext | None = None
        self._counted: Result | None = None
        self._counted_at = 0
        self._belt_is_next = self._pause_is_next = False
        self._watch: EffortWatch | None = None
        self._now = 0.0
        self._in_place: tuple[str | None, str | None, str] | None = None
        """The limb that a press has said is in place."""
        self._return_to: dict[Cue, Cue] = {}
        """Where PAUSED and LOST go back to."""

    # what there is to show

    @property
    def item(self) -> ItemState:
        """The item that is tried now."""
        return self.battery.item

    @property
    def items(self) -> list[ItemState]:
        """The items of the battery."""
        return self.battery.items

    @property
    def trial_began(self) -> float | None:
        """When the force of the trial under way left the zero, on the clock; None before it has."""
        return None if self._watch is None else self._watch.began

    def view(self) -> View:
        """Return what to show."""
        rest = self.rest_left(self._now)
        fraction = self._watch.fraction(self._now) if self._watch else 0.0
        if self.cue is Cue.REST:
            fraction = 1.0 - rest / max(self.protocol.set.rest_s, 1e-9)
        held = self._watch.held(self._now) if self._watch else 0.0
        return View(
            cue=self.cue,
            item=self.item,
            fault=self.fault,
            last=self._last,
            halted=self.halted,
            seconds=rest if self.cue is Cue.REST else held,
            least_s=self._least_left(),
            fraction=min(1.0, max(0.0, fraction)),
            set=self.battery.state(self.item),
            done=len(self.items) - len(self.battery.open) - self.battery.left_out,
            left_out=self.battery.left_out,
            items=len(self.items),
            battery=tuple(self.items),
            level_s=self._watch.level_s if self._watch else None,
        )

    def rest_left(self, now: float) -> float:
        """Return how long the item's muscle still rests, s."""
        last = self.item.last_end
        return 0.0 if last is None else max(0.0, last + self.protocol.set.rest_s - now)

    def _least_left(self) -> float:
        """Return how long the muscle rests at least: rest may be cut short, but not below that."""
        last = self.item.last_end
        return 0.0 if last is None else max(0.0, last + self.protocol.set.rest_least_s - self._now)

    # what happens

    def resume(self, trials: Sequence[Trial], *, skipped: Sequence[TrialContext] = ()) -> None:
        """Go on behind the trials of a session.

        Parameters
        ----------
        trials : sequence of Trial
            Of the session, in order; those that were judged, and neither broken off nor set aside, are counted.
        skipped : sequence of TrialContext
            Items that were left out.
        """
        self.battery.resume(trials, skipped=skipped)
        judged = (trial for trial in trials if trial.verdict is not None)
        self._counted_trials += sum(not trial.is_aside and trial.broken_off is None for trial in judged)
        self.cue = self._begin_cue()

    def may(self, event: Event) -> bool:
        """Tell whether an event changes anything now."""
        return (self.cue, event) in TABLE

    def handle(self, event: Event) -> Cue:
        """Follow the table of transitions."""
        move = TABLE.get((self.cue, event))
        if move is not None:
            if move.do is not None:
                self._do(move.do)
            if move.to in {Cue.PAUSED, Cue.LOST} and move.to is not self.cue:
                self._return_to[move.to] = self._where_to_return(move.to)
            self._enter(move.to if isinstance(move.to, Cue) else self._choose(move.to))
        return self.cue

    def see(self, now: float, force_n: float, *, ready: bool = True) -> Cue:
        """Take the force at a moment; the cue may move on, but to no new trial unless all is `ready` for one."""
        self._now = now
        if self.cue is Cue.REST and ready and self.rest_left(now) <= 0.0:
            self.handle(Event.RESTED)
        if self._watch is not None:
            for event in self._watch.see(now, force_n):
                self.handle(event)
        return self.cue

    def take(self, judgement: Judgement, stored: int | None = None) -> None:
        """Count a finished trial and go on to what follows it; `stored` says which trial of the file it is."""
        result = result_of(judgement, stored)
        self._counted, self._counted_at, self._last = result, self.battery.at, self.item.context
        self.battery.count(result, now=self._now)
        self._counted_trials += 1
        self.last_stored, self.fault, self.halted = stored, result.fault, False
        self._belt_is_next = self.battery.follow_limit(self._counted_at, result)
        self.handle(Event.COUNTED)

    def correct(self, judgement: Judgement, stored: int | None = None) -> bool:
        """Replace what the last trial came to, now that it has been cut; return whether the verdict is another one.

        What followed from the first verdict follows anew from this one: no trial has begun since.
        """
        result, before, at = result_of(judgement, stored), self._counted, self._counted_at
        self._counted, self.last_stored = result, stored
        if self.battery.replace_last(at, result) and self.may(Event.CHANGED):
            self.fault = result.fault
            self.battery.at = at
            self._belt_is_next = self.battery.follow_limit(at, result)
            self.handle(Event.CHANGED)
        return before is not None and before.verdict != result.verdict

    def uncount(self, stored: int) -> None:
        """Take a trial of the session file out of its set, as it was set aside; its item is next unless one pushes."""
        place = self.battery.remove(stored)
        self._counted_trials -= place is not None
        self._changed_at(place)

    def recount(self, context: TrialContext, result: Result) -> None:
        """Count a trial of the session file that was set aside, and is taken back."""
        place = self.battery.restore(context, result)
        self.last_stored = result.stored
        self._counted_trials += place is not None
        self._changed_at(place)

    def take_back(self, context: TrialContext) -> None:
        """Try an item that was left out."""
        places = self.battery.places(context)
        self.battery.skip(*places, skipped=False)
        self._changed_at(places[0] if places else None)

    def repeat(self, context: TrialContext) -> None:
        """Try an item once more that is complete, or was left out."""
        places = self.battery.places(context)
        for place in places[:1]:
            self.battery.repeat(place)
        self._changed_at(places[0] if places else None)

    def _changed_at(self, place: int | None) -> None:
        if place is not None and self.may(Event.CHANGED):
            self.battery.at, self.fault, self.halted = place, None, False
            self.handle(Event.CHANGED)

    # the choices of the table

    def _choose(self, choice: Choice) -> Cue:
        return {Choice.NEXT: self._next, Choice.READY: self._ready, Choice.RETURN: self._return}[choice]()

    def _next(self) -> Cue:
        chosen = self._next_of_battery()
        if self._pause_is_next and chosen is not Cue.DONE:
            self._pause_is_next, self._return_to[Cue.PAUSED] = False, chosen
            return Cue.PAUSED
        self._pause_is_next = False
        return chosen

    def _next_of_battery(self) -> Cue:
        if self.hands_free:
            return Cue.RECORD if not self._count_is_full() and self.battery.go_on() else Cue.DONE
        if self._belt_is_next:
            self._belt_is_next = False
            return Cue.PLACE
        here = self.item.context.action
        if not self.battery.go_on():
            return Cue.DONE
        same_action = self.item.context.action == here
        return Cue.REST if same_action and self.item.last_end is not None else Cue.PLACE

    def _ready(self) -> Cue:
        if self._least_left() > 0.0:
            return Cue.REST
        return Cue.SET if self._in_place == identity(self.item.context) else Cue.PLACE

    def _return(self) -> Cue:
        return self._return_to.get(self.cue, Cue.PLACE)

    def _begin_cue(self) -> Cue:
        if not self.battery.open or self._count_is_full():
            return Cue.DONE
        return Cue.RECORD if self.hands_free else Cue.PLACE

    def _count_is_full(self) -> bool:
        return self._count is not None and self._counted_trials >= self._count

    # the effects of the table

    def _do(self, effect: Effect) -> None:
        {
            Effect.LEAVE_OUT: lambda: self.battery.skip(self.battery.at),
            Effect.JUDGE: self._judge,
            Effect.BEGIN_REST: lambda: self.battery.rest_from(self._now),
            Effect.PAUSE_NEXT: self._pause_next,
            Effect.CHOOSE_ANEW: self._choose_anew,
        }[effect]()

    def _judge(self) -> None:
        self.trial_over = True

    def _pause_next(self) -> None:
        self._pause_is_next = True

    def _choose_anew(self) -> None:
        kept = Cue.PAUSED if self.cue is Cue.LOST and self._return_to[Cue.LOST] is Cue.PAUSED else self.cue
        self._return_to[kept] = self._next_of_battery()

    # what is done on the way into a state and out of one

    def _enter(self, cue: Cue) -> None:
        if self.cue is Cue.PLACE and cue is Cue.SET:
            self._in_place = identity(self.item.context)
        if cue in {Cue.PLACE, Cue.PAUSED, Cue.LOST, Cue.HALTED}:
            self._in_place = None
        if cue is Cue.HALTED:
            self.halted, self.fault, self._last, self.last_stored = True, None, self.item.context, None
        if cue is Cue.LOST and self.cue in EFFORT:
            self.last_stored, self._pause_is_next = None, False
        if cue is Cue.SET:
            self._begin_trial()
        elif cue not in TRIAL:
            self._watch, self.trial_over = None, False
        self.cue = cue

    def _where_to_return(self, cue: Cue | Choice) -> Cue:
        if cue is Cue.LOST and self.cue is Cue.HALTED:
            return self._next()
        return Cue.PLACE if self.cue in ASKED else self.cue

    def _begin_trial(self) -> None:
        before = max(self.item.plateaus(), default=0.0)
        self._watch, self.trial_over = EffortWatch(self.protocol, before_n=before), False
        self.fault = self._last = None
        self.halted = False
