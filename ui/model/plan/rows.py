"""The table of actions: one row for each, and what editing a cell makes of the plan."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from acquire.values.records import Method, Side
from analysis.battery.actions import Action, load_actions
from analysis.battery.battery import Item
from analysis.errors import ActionsError
from ui.model.plan.plan import OWN, LeverArms, PlanDraft, items_of, listed_items

SIDES: tuple[Side, Side] = ("left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionRow:
    """One action of the table."""

    action: Action
    order: int | None
    """Its place among the actions as they will be tried, from 1; None when it is not chosen."""
    method: Method
    levers: dict[Side, float | None]
    """The lever arm of each side that is tried, m; None where it is not known."""
    wanted: bool
    """Whether torque is wanted, so that a lever arm not known is missing."""

    @property
    def chosen(self) -> bool:
        """Whether it is in the battery."""
        return self.order is not None

    def missing(self, side: Side) -> bool:
        """Tell whether a side's lever arm is still to be measured."""
        return self.wanted and side in self.levers and self.levers[side] is None


def rows_of(draft: PlanDraft) -> tuple[ActionRow, ...]:
    """Return a row for each action there is, in the order of their file; none when they cannot be read."""
    try:
        actions = load_actions(draft.actions)
    except ActionsError:
        return ()
    try:
        items = items_of(draft)
    except (ActionsError, ValueError):
        items = ()
    tried = list(dict.fromkeys(item.action for item in items))
    return tuple(
        _row(action, [item for item in items if item.action == action.key], tried, draft) for action in actions.values()
    )


def _row(action: Action, items: list[Item], tried: list[str], draft: PlanDraft) -> ActionRow:
    method = items[0].method if items else None
    return ActionRow(
        action=action,
        order=tried.index(action.key) + 1 if items else None,
        method=method or draft.methods.get(action.key, action.method),
        levers={item.side: item.lever_arm_m for item in items if item.side},
        wanted=draft.want_torque,
    )


def with_battery(draft: PlanDraft, battery: str) -> PlanDraft:
    """Return the plan with another battery; one's own begins with what is chosen now."""
    if battery == OWN and draft.battery != OWN:
        return _as_own(draft, [row.action.key for row in rows_of(draft) if row.chosen])
    return msgspec.structs.replace(draft, battery=battery)


def with_actions(draft: PlanDraft, file: str) -> PlanDraft:
    """Return the plan with another file of actions, all of them chosen."""
    return msgspec.structs.replace(draft, actions=file, battery="all", own=(), methods={})


def with_choice(draft: PlanDraft, key: str, *, chosen: bool) -> PlanDraft:
    """Return the plan with one action put in or left out; the battery is one's own from then on."""
    keys = [row.action.key for row in rows_of(draft) if (chosen if row.action.key == key else row.chosen)]
    return _as_own(draft, keys)


def _as_own(draft: PlanDraft, keys: list[str]) -> PlanDraft:
    """Return the plan as a choice of actions, with the methods and lever arms that a battery file gave."""
    methods, levers = dict(draft.methods), draft.lever_arms
    for item in _listed(draft):
        if item.method and item.action not in methods:
            methods[item.action] = item.method
        if item.lever_arm_m is not None and item.side and item.side not in levers.get(item.action, {}):
            levers = _with_arm(levers, item.action, item.side, item.lever_arm_m)
    return msgspec.structs.replace(draft, battery=OWN, own=tuple(keys), methods=methods, lever_arms=levers)


def _listed(draft: PlanDraft) -> tuple[Item, ...]:
    try:
        return listed_items(draft)
    except ActionsError:
        return ()


def with_method(draft: PlanDraft, key: str, method: Method) -> PlanDraft:
    """Return the plan with an action held by hand or by a belt."""
    return msgspec.structs.replace(draft, methods={**draft.methods, key: method})


def with_lever(draft: PlanDraft, key: str, side: Side, lever_arm_m: float | None) -> PlanDraft:
    """Return the plan with one lever arm, m; None forgets it."""
    return msgspec.structs.replace(draft, lever_arms=_with_arm(draft.lever_arms, key, side, lever_arm_m))


def _with_arm(levers: LeverArms, key: str, side: Side, lever_arm_m: float | None) -> LeverArms:
    arms = {other: arm for other, arm in levers.get(key, {}).items() if other != side}
    if lever_arm_m is not None:
        arms[side] = lever_arm_m
    rest = {other: arms for other, arms in levers.items() if other != key}
    return {**rest, key: arms} if arms else rest
