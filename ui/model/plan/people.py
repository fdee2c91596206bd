"""The people who were tested before: each with the last session, what they had in it, and how to plan the next.

All of it comes from the session files of the folder in which sessions are saved; a file that cannot be read is passed
over here. Demo sessions are nobody's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import msgspec

from acquire.errors import AcquireError
from acquire.storage.session_file import read_index
from acquire.values.records import Method, Person, Side, TrialContext
from analysis.battery.actions import Action, in_language, load_actions
from analysis.battery.battery import REGIONS, load_battery
from analysis.errors import ActionsError
from ui.model.plan.plan import OWN, LeverArms, PlanDraft
from ui.model.stored_sessions import StoredSession, stored_sessions
from ui.words.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPerson:
    """Somebody who was tested before."""

    person: Person
    """As they were last time."""
    last: datetime
    """When the last session began."""
    sessions: int
    items: tuple[TrialContext, ...]
    """What the last session tested, in its order."""

    @property
    def actions(self) -> tuple[str, ...]:
        """The keys of the actions of the last session, each once."""
        return tuple(dict.fromkeys(item.action for item in self.items if item.action))


def known_people(folder: Path) -> tuple[KnownPerson, ...]:
    """Return everybody with a session below a folder, the last one tested first."""
    by_code: dict[str, list[StoredSession]] = {}
    for session in stored_sessions(folder):
        if session.person.strip() and not session.context.invented and session.trials:
            by_code.setdefault(session.person.strip(), []).append(session)
    return tuple(found for sessions in by_code.values() if (found := _known(sessions)) is not None)


def _known(sessions: Sequence[StoredSession]) -> KnownPerson | None:
    last = sessions[0]
    try:
        index = read_index(last.path)
    except AcquireError:  # gone or overwritten since it was listed
        return None
    return KnownPerson(
        person=last.context.person,
        last=last.started,
        sessions=len(sessions),
        items=(*(trial.context for trial in index.trials), *index.context.skipped),
    )


def matching_people(people: Sequence[KnownPerson], typed: str) -> tuple[KnownPerson, ...]:
    """Return the people whose code holds what is typed."""
    wanted = typed.strip().casefold()
    return tuple(each for each in people if wanted in each.person.code.casefold())


def person_lines(known: KnownPerson, words: Words, actions: dict[str, Action]) -> tuple[str, str]:
    """Return somebody in two lines: code and last session, then what they had."""
    named = [in_language(actions[key], words.language).name if key in actions else key for key in known.actions]
    times = words("plan.people.sessions", count=known.sessions)
    return f"{known.person.code}   {words.moment(known.last)}", ", ".join([times, *named])


def with_known_person(draft: PlanDraft, known: KnownPerson, typed: LeverArms) -> PlanDraft:
    """Return the plan for somebody as they were tested last time.

    Parameters
    ----------
    draft : PlanDraft
        The plan; what is nobody's own, such as sensor and protocol, stays.
    known : KnownPerson
        Whom to test.
    typed : dict
        Lever arms that were kept for this person; those of the last session come first.
    """
    try:
        actions = load_actions(draft.actions)
    except ActionsError:
        return msgspec.structs.replace(draft, person=known.person)
    items = [item for item in known.items if item.action in actions]
    levers = _levers(items)
    arms = {key: {**typed.get(key, {}), **levers.get(key, {})} for key in {**typed, **levers}}
    filled = msgspec.structs.replace(
        draft, person=known.person, lever_arms=arms, want_torque=bool(levers) or draft.want_torque
    )
    return _with_items(filled, items, actions) if items else filled


def _with_items(draft: PlanDraft, items: Sequence[TrialContext], actions: dict[str, Action]) -> PlanDraft:
    keys = tuple(dict.fromkeys(item.action for item in items if item.action))
    tried = {item.side for item in items if item.side}
    sides: tuple[Side, ...] = tuple(side for side in ("left", "right") if side in tried) or draft.sides
    return msgspec.structs.replace(
        draft, battery=_battery(keys, actions), own=keys, sides=sides, methods=_methods(items, actions)
    )


def _battery(keys: Sequence[str], actions: dict[str, Action]) -> str:
    """Return the battery of these actions: one that comes with the program, else one's own."""
    for name in ("all", *REGIONS):
        if {item.action for item in load_battery(name, actions, sides=("left", "right"))} == set(keys):
            return name
    return OWN


def _methods(items: Sequence[TrialContext], actions: dict[str, Action]) -> dict[str, Method]:
    """Return how each action was held at last, where that is not its usual way."""
    last = {item.action: item.method for item in items if item.action}
    return {key: method for key, method in last.items() if method != actions[key].method}


def _levers(items: Sequence[TrialContext]) -> LeverArms:
    arms: LeverArms = {}
    for item in items:
        if item.action and item.side and item.lever_arm_m is not None:
            arms.setdefault(item.action, {})[item.side] = item.lever_arm_m
    return arms
