"""The order in which a report names results: joint by joint, as the actions' file has them, left before right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.values.records import Method, Side
from analysis.battery.actions import load_actions
from analysis.results.action_result import ActionResult
from analysis.results.summary import SIDES


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """The results of one action, by one method and one sensor: those of the sides, or one without a side."""

    action: str | None
    method: Method
    sensor: str | None
    results: tuple[ActionResult, ...]


def pairs_of(actions: Sequence[ActionResult]) -> tuple[Pair, ...]:
    """Return results with those of one action together, in order."""
    groups: dict[tuple[str | None, Method, str | None], list[ActionResult]] = {}
    for each in sorted(actions, key=lambda one: place_of(one.action, one.side)):
        groups.setdefault((each.action, each.method, each.sensor), []).append(each)
    return tuple(
        Pair(action=action, method=method, sensor=sensor, results=tuple(found))
        for (action, method, sensor), found in groups.items()
    )


def place_of(action: str | None, side: Side | None) -> tuple[int, str, int, str, int]:
    """Return what results are sorted by: joint, action, side; a user's own joints and actions come after the known.

    Examples
    --------
    >>> sides = [("knee-flexion", "right"), ("knee-flexion", "left"), ("elbow-flexion", None)]
    >>> sorted(sides, key=lambda each: place_of(*each))
    [('elbow-flexion', None), ('knee-flexion', 'left'), ('knee-flexion', 'right')]
    """
    known = list(load_actions())
    joints = list(dict.fromkeys(joint_of(key) for key in known))
    joint, name = joint_of(action), action or ""
    return (
        joints.index(joint) if joint in joints else len(joints),
        joint,
        known.index(name) if name in known else len(known),
        name,
        len(SIDES) if side is None else SIDES.index(side),
    )


def joint_of(action: str | None) -> str:
    """Return the joint that an action moves: the first word of its key.

    Examples
    --------
    >>> joint_of("knee-extension"), joint_of(None)
    ('knee', '')
    """
    return (action or "").partition("-")[0]
