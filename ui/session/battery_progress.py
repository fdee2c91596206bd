"""How far a battery has come: each item, what its trials came to, and which one is next.

Items of one action stand at one station: they take turns, so that one side rests while the other works. A trial by hand
that goes beyond what the examiner can hold begins its item anew with a belt: forces by hand and by belt do not mix.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import msgspec

from acquire.values.records import Trial, TrialContext
from acquire.values.remarks import TrialEnd
from analysis.results.sets import SetState, set_state
from analysis.trial.faults import Fault
from analysis.trial.protocol import SetRule
from analysis.trial.verdict import Judgement


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What one trial came to, as the engine needs it."""

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
    """When its last effort ended, on the clock."""
    skipped: bool = False
    wanted: int = 0
    """So many trials are wanted at least: one more than there are, where it is to be repeated."""
    by_hand: tuple[Result, ...] = ()
    """What was tried by hand before the item went on with a belt; none of it counts in the belt's set."""

    def plateaus(self) -> list[float]:
        """Return the plateau forces of the accepted trials, N."""
        return [r.plateau_n for r in self.results if r.verdict == "accepted" and r.plateau_n is not None]


class BatteryProgress:
    """The items of a battery and where it stands.

    Parameters
    ----------
    contexts : sequence of TrialContext
        The items, in order.
    rule : SetRule, optional
        When a set is complete; without one no item ever is.
    alternate : bool
        Whether items of one action take turns; otherwise each is completed before the next.
    to_belt : bool
        Whether an item goes on with a belt where the examiner's limit was passed.
    """

    def __init__(
        self, contexts: Sequence[TrialContext], rule: SetRule | None, *, alternate: bool = True, to_belt: bool = True
    ) -> None:
        if not contexts:
            raise ValueError("contexts must hold at least one item")
        self.items = [ItemState(context=context) for context in contexts]
        self.at = 0
        """Which item is tried now."""
        self._rule, self._alternate, self._to_belt = rule, alternate, to_belt

    @property
    def item(self) -> ItemState:
        """The item that is tried now."""
        return self.items[self.at]

    @property
    def open(self) -> list[int]:
        """Which items are not complete."""
        return [place for place, item in enumerate(self.items) if not self.is_complete(item)]

    def state(self, item: ItemState) -> SetState | None:
        """Return where the set of an item stands; None where there is no rule for sets."""
        return None if self._rule is None else set_state(item.plateaus(), len(item.results), self._rule)

    def is_complete(self, item: ItemState) -> bool:
        """Tell whether an item needs no further trial."""
        state = self.state(item)
        return item.skipped or (state is not None and state.complete and len(item.results) >= item.wanted)

    def resume(self, trials: Sequence[Trial], *, skipped: Sequence[TrialContext] = ()) -> None:
        """Count the trials of a session that is gone on with, and leave out what was left out.

        Trials set aside do not count, nor those that a crash broke off before they were any good. An item that went
        on with a belt does so again.
        """
        for stored, trial in enumerate(trials):
            self._count_stored(trial, stored)
        for context in skipped:
            self.skip(*self.places(context))
        self.at = self.open[0] if self.open else self.at

    def _count_stored(self, trial: Trial, stored: int) -> None:
        if trial.is_aside or trial.verdict is None:
            return
        if TrialEnd.CRASHED in trial.damage and trial.verdict["verdict"] != "accepted":
            return
        result = result_of_stored(trial.verdict, stored)
        for place in self.places(trial.context):
            self._change(place, results=(*self.items[place].results, result))
            self.follow_limit(place, result)

    @property
    def left_out(self) -> int:
        """How many items were left out."""
        return sum(item.skipped for item in self.items)

    def places(self, context: TrialContext) -> list[int]:
        """Return where in the battery an item stands."""
        return [place for place, item in enumerate(self.items) if identity(item.context) == identity(context)]

    def count(self, result: Result, *, now: float) -> None:
        """Count a finished trial of the item that is tried now."""
        self._change(self.at, results=(*self.item.results, result), last_end=now)

    def replace_last(self, place: int, result: Result) -> bool:
        """Replace what the last trial of an item came to; return whether there was one."""
        results = self.items[place].results
        if results:  # it was not begun anew with a belt
            self._change(place, results=(*results[:-1], result))
        elif by_hand := self.items[place].by_hand:
            self._change(place, by_hand=(*by_hand[:-1], result))
        return bool(results)

    def remove(self, stored: int) -> int | None:
        """Take a trial of the session file out of its set; return the place of its item, None if it did not count."""
        found = None
        for place, item in enumerate(self.items):
            kept = tuple(result for result in item.results if result.stored != stored)
            if len(kept) < len(item.results):
                self._change(place, results=kept)
                found = place
        return found

    def restore(self, context: TrialContext, result: Result) -> int | None:
        """Count a trial of the session file again, in its order; return the place of its item."""
        places = self.places(context)
        for place in places:
            results = sorted((*self.items[place].results, result), key=lambda r: -1 if r.stored is None else r.stored)
            self._change(place, results=tuple(results))
        return places[0] if places else None

    def skip(self, *places: int, skipped: bool = True) -> None:
        """Leave items out, or take them back."""
        for place in places:
            self._change(place, skipped=skipped)

    def repeat(self, place: int) -> None:
        """Ask for one more trial of an item, left out or complete."""
        self._change(place, skipped=False, wanted=len(self.items[place].results) + 1)

    def rest_from(self, now: float) -> None:
        """Let the muscle rest from a moment on, though no trial counts."""
        self._change(self.at, last_end=now)

    def follow_limit(self, place: int, result: Result) -> bool:
        """Begin an item anew with a belt if its trial by hand went beyond the examiner; return whether it did."""
        item = self.items[place]
        if not (self._to_belt and "examiner-limit" in result.codes and item.context.method == "hand"):
            return False
        belt = msgspec.structs.replace(item.context, method="belt")
        self.items[place] = ItemState(context=belt, last_end=item.last_end, by_hand=item.results)
        return True

    def go_on(self) -> bool:
        """Go on to the item that is next; return whether there is one."""
        left = self.open
        here = [place for place in left if self.items[place].context.action == self.item.context.action]
        if self._alternate and here:  # the one that has rested longest
            self.at = min(here, key=lambda place: (self._last_end(place), place))
        elif left and not (not self._alternate and self.at in left):
            self.at = left[0]
        return bool(left)

    def _last_end(self, place: int) -> float:
        end = self.items[place].last_end
        return -1.0 if end is None else end

    def _change(self, place: int, **changes: object) -> None:
        self.items[place] = replace(self.items[place], **changes)  # type: ignore[arg-type]  # named fields


def identity(context: TrialContext) -> tuple[str | None, str | None, str]:
    """Return what tells one item from another: action, side, method."""
    return (context.action, context.side, context.method)


def result_of_stored(verdict: Mapping[str, Any], stored: int) -> Result:
    """Return what the verdict of a stored trial means for the battery."""
    return Result(
        verdict=verdict["verdict"],
        plateau_n=verdict["plateau_force_n"],
        codes=tuple(fault["code"] for fault in verdict["faults"]),
        stored=stored,
    )


def result_of(judgement: Judgement, stored: int | None) -> Result:
    """Return what a judgement means for the battery."""
    faults = judgement.faults
    return Result(
        verdict=judgement.verdict,
        plateau_n=judgement.measures.plateau_force_n,
        codes=tuple(fault.code for fault in faults),
        fault=faults[0] if faults else None,
        stored=stored,
    )
