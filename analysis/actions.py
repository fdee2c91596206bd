"""The actions: which movement, in which position, with the pad where. The thirteen are a file like any user's."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Literal

import msgspec

from acquire.records import Method
from acquire.tomlfile import named_or_path, parse_toml
from analysis.errors import ActionsError


class Action(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One joint movement and how it is tested."""

    key: str
    """The words of the name, joined by hyphens."""
    name: str
    region: Literal["arm", "leg"]
    position: Literal["supine", "seated"]
    limb: str
    """How the limb lies."""
    pad: str
    """Where the pad goes."""
    push: str
    """Which way the person pushes."""
    steady: str
    """What is held steady."""
    method: Method = "hand"
    """What is advised for most people; a strong muscle wants a belt."""


class Actions(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A file of actions."""

    action: tuple[Action, ...]


@cache
def load_actions(name_or_path: str = "thirteen") -> dict[str, Action]:
    """Return the actions of a file by their keys, in the order of the file.

    Raises
    ------
    ActionsError
        If there is no such file, a key is unknown or missing, or two actions share a key.

    Examples
    --------
    >>> load_actions()["knee-extension"].position
    'seated'
    """
    folder = resources.files("analysis") / "data" / "actions"
    path = named_or_path(name_or_path, folder=folder, kind="actions file", error=ActionsError)
    actions = parse_toml(path, Actions, error=ActionsError).action
    found = {action.key: action for action in actions}
    if len(found) < len(actions):
        twice = next(a.key for i, a in enumerate(actions) if a.key in {b.key for b in actions[:i]})
        raise ActionsError(f"{path}: the action {twice} is there twice: give one of them another key")
    return found


def find_action(key: str, actions: dict[str, Action]) -> Action:
    """Return the action of a key.

    Raises
    ------
    ActionsError
        If there is none; lists those there are.
    """
    if key not in actions:
        raise ActionsError(f"there is no action {key}; there are: {', '.join(actions)}")
    return actions[key]
