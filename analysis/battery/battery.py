"""A battery: the planned list of actions, sides and methods, each to be tried until its set is good."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import msgspec

from acquire.files.tomlfile import parse_toml
from acquire.values.records import Method, Side, TrialContext
from analysis.battery.actions import Action, find_action
from analysis.errors import ActionsError


class Item(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One action of one side."""

    action: str
    side: Side | None = None
    method: Method | None = None
    """The action's own when it is left out."""
    lever_arm_m: float | None = None
    """From the joint to the middle of the pad."""
    resting_force_n: float | None = None
    """Force of the relaxed limb on the pad, read from a sensor zeroed without load."""


class Battery(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A file that lists what is to be tested, in order."""

    item: tuple[Item, ...] = ()


REGIONS = ("all", "arm", "leg")
"""The batteries that need no file."""


def load_battery(name_or_path: str, actions: dict[str, Action], *, sides: Sequence[Side]) -> tuple[Item, ...]:
    """Return the items of a battery.

    Parameters
    ----------
    name_or_path : str
        ``all``, ``arm``, ``leg``, or a file with one ``[[item]]`` for each action and side.
    actions : dict
        The actions there are.
    sides : sequence of str
        Which sides, for the batteries without a file.

    Raises
    ------
    ActionsError
        If the file cannot be read or is empty, a key is unknown, or an action is.

    Examples
    --------
    >>> from analysis.battery.actions import load_actions
    >>> len(load_battery("all", load_actions(), sides=("left", "right")))
    26
    """
    if name_or_path in REGIONS:
        chosen = [action for action in actions.values() if name_or_path in ("all", action.region)]
        return tuple(Item(action=action.key, side=side) for action in chosen for side in sides)
    items = parse_toml(Path(name_or_path), Battery, error=ActionsError).item
    if not items:
        raise ActionsError(f"{name_or_path}: holds no [[item]]; add one for each action and side")
    for item in items:
        find_action(item.action, actions)
    return items


def contexts(
    items: Iterable[Item], actions: dict[str, Action], *, examiner: str | None, examiner_limit_n: float | None
) -> tuple[TrialContext, ...]:
    """Return the context of the trials of each item.

    Parameters
    ----------
    items : iterable of Item
        The battery, in order.
    actions : dict
        The known actions by key.
    examiner : str, optional
        Code of who holds the sensor.
    examiner_limit_n : float, optional
        The most force that examiner can hold, N.

    Raises
    ------
    ActionsError
        If an item names an action that is not known.

    Examples
    --------
    >>> from analysis.battery.actions import load_actions
    >>> items = [Item(action="knee-extension", side="left", lever_arm_m=0.35)]
    >>> (context,) = contexts(items, load_actions(), examiner="EX-1", examiner_limit_n=250.0)
    >>> context.action, context.side, context.examiner, context.lever_arm_m
    ('knee-extension', 'left', 'EX-1', 0.35)
    """
    return tuple(
        TrialContext(
            action=item.action,
            side=item.side,
            method=item.method or find_action(item.action, actions).method,
            examiner=examiner,
            examiner_limit_n=examiner_limit_n,
            lever_arm_m=item.lever_arm_m,
            resting_force_n=item.resting_force_n,
        )
        for item in items
    )
