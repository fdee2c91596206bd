"""A session as it is planned: who, what, with what, and whether it can begin.

A `PlanDraft` is one frozen value; the Plan place replaces it at every edit and asks the functions here what
is still missing, in which order the battery will be tried, and how long it will take.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import msgspec

from acquire.values.records import Method, Person, Side, TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import Action, load_actions
from analysis.battery.battery import Item, contexts, load_battery
from analysis.battery.ordering import Estimate, duration_s, order_items
from analysis.trial.protocol import Protocol, load_protocol
from ui.session.open_sensor import SIMULATED

OWN = "own"
"""The battery that is the user's own choice among the actions."""

LeverArms = dict[str, dict[Side, float]]
"""From the joint to the middle of the pad, m, by action and side."""


class PlanDraft(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Everything that the Plan place edits."""

    person: Person = Person()
    examiner: str = ""
    examiner_limit_n: float | None = None
    """The most this examiner can hold against; None when not known."""
    limit_measured: bool = False
    """Whether that was measured here, not typed."""
    sensor: str = SIMULATED
    """A profile's name or file."""
    port: str | None = None
    """None for the simulated sensor."""
    calibration: str = ""
    """A file; empty for the nominal sensitivity of the profile."""
    actions: str = "thirteen"
    """A file of actions."""
    battery: str = "all"
    """``all``, ``arm``, ``leg``, ``own``, or a battery file."""
    own: tuple[str, ...] = ()
    """The actions of the battery ``own``."""
    sides: tuple[Side, ...] = ("left", "right")
    alternate: bool = True
    """Whether the sides of an action take turns; otherwise one side's trials come together."""
    trials: int = 3
    methods: dict[str, Method] = {}
    """Where the user wants another method than the battery or the action says."""
    want_torque: bool = False
    lever_arms: LeverArms = {}
    rest_s: float = 90.0
    protocol: str = "ramp-and-hold"
    results: str = "standard"
    """What the trials are scored by: settings by name, or a file."""
    unit: ForceUnit = ForceUnit.NEWTON
    language: str = "en"
    hide_number: bool = False
    out: str = ""
    """The session file to write."""
    resume: bool = False
    """Whether that session was begun before and is to be gone on with."""
    cautions_acknowledged: dt.datetime | None = None


# what will be tried


def items_of(draft: PlanDraft) -> tuple[Item, ...]:
    """Return the battery with its methods and lever arms, in the order in which it will be tried.

    Raises
    ------
    ActionsError
        If the actions or the battery cannot be read.
    """
    return order_items(
        chosen_items(draft),
        load_actions(draft.actions),
        trials=draft.trials,
        rest_s=draft.rest_s,
        alternate=draft.alternate,
    )


def chosen_items(draft: PlanDraft) -> tuple[Item, ...]:
    """Return the battery with its methods and lever arms, in its own order.

    Raises
    ------
    ActionsError
        If the actions or the battery cannot be read.
    """
    actions = load_actions(draft.actions)
    return tuple(_settled(item, actions[item.action], draft) for item in listed_items(draft))


def contexts_of(draft: PlanDraft) -> tuple[TrialContext, ...]:
    """Return what the trials of each item are, in the order in which they will be tried.

    Raises
    ------
    ActionsError
        If the actions or the battery cannot be read.
    """
    return contexts(
        items_of(draft),
        load_actions(draft.actions),
        examiner=draft.examiner or None,
        examiner_limit_n=draft.examiner_limit_n,
    )


def estimate_of(draft: PlanDraft) -> Estimate:
    """Return how long the battery will take when no trial is repeated.

    Raises
    ------
    ActionsError
        If the actions or the battery cannot be read.
    """
    return duration_s(
        items_of(draft),
        load_actions(draft.actions),
        trials=draft.trials,
        rest_s=draft.rest_s,
        alternate=draft.alternate,
    )


def run_protocol(draft: PlanDraft) -> Protocol:
    """Return the protocol with the plan's trials and rest, for the battery runner.

    Trials are judged and stored by the protocol as its file has it: how many there are and how long a person
    rests between them changes no verdict, and so no hash.

    Raises
    ------
    ProtocolError
        If the protocol cannot be read.
    """
    protocol = load_protocol(draft.protocol)
    rule = msgspec.structs.replace(
        protocol.set,
        trials=draft.trials,
        most_trials=max(protocol.set.most_trials, draft.trials),
        rest_s=draft.rest_s,
    )
    return msgspec.structs.replace(protocol, set=rule)


def listed_items(draft: PlanDraft) -> tuple[Item, ...]:
    """Return the battery as it was chosen or written, in its own order.

    Raises
    ------
    ActionsError
        If the actions or the battery cannot be read.
    """
    actions = load_actions(draft.actions)
    if draft.battery == OWN:
        return tuple(Item(action=key, side=side) for key in actions if key in draft.own for side in draft.sides)
    return load_battery(draft.battery, actions, sides=draft.sides)


def _settled(item: Item, action: Action, draft: PlanDraft) -> Item:
    """Return an item with the plan's method, and with its lever arm where torque is wanted."""
    lever = None
    if draft.want_torque:
        own = draft.lever_arms.get(item.action, {})
        lever = own.get(item.side, item.lever_arm_m) if item.side else item.lever_arm_m
    return msgspec.structs.replace(
        item, method=draft.methods.get(item.action, item.method or action.method), lever_arm_m=lever
    )


def suggested_out(folder: Path, code: str, at: dt.datetime) -> Path:
    """Return a name for a session file that does not exist yet: the person's code, day and time.

    Examples
    --------
    >>> suggested_out(Path("/nowhere"), "P-014", dt.datetime(2026, 3, 2, 9, 5)).name
    'P-014_2026-03-02_0905.h5'
    """
    safe = "".join(letter if letter.isalnum() or letter in "-." else "-" for letter in code.strip()).strip(".-")
    stem = f"{safe or 'session'}_{at:%Y-%m-%d_%H%M}"
    names = (f"{stem}{'' if number == 1 else f'-{number}'}.h5" for number in range(1, 1000))
    return next((folder / name for name in names if not (folder / name).exists()), folder / f"{stem}.h5")


def make_folder(draft: PlanDraft) -> None:
    """Make the folder of the session file, one level deep, if it is not there yet.

    Raises
    ------
    OSError
        If it cannot be made.
    """
    Path(draft.out).expanduser().parent.mkdir(exist_ok=True)


def finished(draft: PlanDraft) -> PlanDraft:
    """Return a draft without blanks around its codes, and with the whole path of its file."""
    person = msgspec.structs.replace(draft.person, code=draft.person.code.strip())
    out = str(Path(draft.out.strip()).expanduser().absolute())
    return msgspec.structs.replace(draft, person=person, examiner=draft.examiner.strip(), out=out)
