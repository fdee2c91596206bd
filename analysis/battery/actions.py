"""The actions: which movement, in which position, with the pad where. The thirteen are a file like any user's.

An action may come with a figure: the joint angles from which the window draws it. Angles are those of the
trade, 0 in a straight body with the palms to the front, so that one can be written down from a position seen.
"""

from __future__ import annotations

from importlib import resources
from importlib.resources.abc import Traversable
from typing import Annotated, Literal

import msgspec

from acquire.files.named_file import read_named
from acquire.files.tomlfile import parse_toml
from acquire.values.records import Method
from analysis.errors import ActionsError

Angle = Annotated[float, msgspec.Meta(ge=-180.0, le=180.0)]
"""Degrees."""

Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]

Segment = Literal["head", "trunk", "shoulders", "pelvis", "upper-arm", "forearm", "hand", "thigh", "lower-leg", "foot"]
"""The parts of the body, each from the end nearer the middle of the body.

The head begins at the neck, the trunk at the shoulders; shoulders and pelvis run from the middle to one side,
and their outer face looks to the head.
"""

Face = Literal["front", "back", "outer", "inner"]
"""Sides of a segment, named in a straight body with the palms to the front; the front of the foot is its top."""


class Joints(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The joint angles of one side, degrees; flexion and movements outwards are positive."""

    shoulder: Angle = 0.0
    """Flexion, 180 with the arm beside the head; negative behind the body."""
    shoulder_out: Angle = 0.0
    """Abduction."""
    shoulder_turn: Angle = 0.0
    """External rotation."""
    elbow: Angle = 0.0
    palm: Angle = 0.0
    """Turn of the hand from palm to the front, 90 with the thumb there, 180 with the back of the hand."""
    wrist: Angle = 0.0
    """Flexion; negative for extension."""
    hip: Angle | None = None
    """Flexion; what lays the thigh level, when it is left out."""
    hip_out: Angle = 0.0
    """Abduction."""
    hip_turn: Angle = 0.0
    """External rotation."""
    knee: Angle | None = None
    """Flexion; 90 on a seat and 0 on a couch, when it is left out."""
    ankle: Angle = 0.0
    """Dorsiflexion, 0 with the foot at a right angle; negative with the toes pointed."""


class Place(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A place on the body."""

    on: Segment
    at: Share
    """How far along the segment, 0 at its beginning, 1 at its end."""
    face: Face = "front"
    of: Literal["tested", "other"] = "tested"
    """Whose segment it is: of the tested side or of the other."""


class Figure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How an action is drawn. What is left out is a straight body, or a sitting one, seen from the side."""

    view: Literal["side", "above", "aslant", "feet"] = "side"
    """From where: the tested side, above, between the two, or the feet end: wherever the push is seen best."""
    trunk: Angle | None = None
    """How upright the trunk is: 0 lying, 90 sitting up; that of the position when it is left out."""
    neck: Angle = 0.0
    """Flexion of the neck."""
    tested: Joints = Joints()
    other: Joints = Joints()
    """The side that is not tested."""
    pad: Place | None = None
    """Where the pad goes. The person pushes into it: straight away from the segment, on the pad's side."""
    steady: tuple[Place, ...] = ()
    """Where the body is held."""
    block: Place | None = None
    """A segment that rests on a block, its face the lower one."""
    heels_free: bool = False
    """Whether the couch ends above the heels."""


class Wording(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The words of an action in another language; what is left out stays English."""

    name: str | None = None
    limb: str | None = None
    pad: str | None = None
    push: str | None = None
    steady: str | None = None


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
    figure: Figure = Figure()
    words: dict[str, Wording] = {}
    """Other languages by their codes, such as ``de``."""


class Actions(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A file of actions."""

    action: tuple[Action, ...]


def load_actions(name_or_path: str = "thirteen") -> dict[str, Action]:
    """Return the actions of a file by their keys, in the order of the file.

    Raises
    ------
    ActionsError
        If there is no such file, a key is unknown or missing, a value is out of its range, or two actions
        share a key.

    Examples
    --------
    >>> load_actions()["knee-extension"].position
    'seated'
    """
    folder = resources.files("analysis") / "data" / "actions"
    return dict(read_named(name_or_path, _read, folder=folder, kind="actions file", error=ActionsError))


def _read(path: Traversable) -> dict[str, Action]:
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

    Examples
    --------
    >>> find_action("knee-extension", load_actions()).position
    'seated'
    """
    if key not in actions:
        raise ActionsError(f"there is no action {key}; there are: {', '.join(actions)}")
    return actions[key]


def trunk_angle(action: Action) -> float:
    """Return the angle of the trunk above the horizontal, degrees: as given, or by the position.

    Examples
    --------
    >>> trunk_angle(load_actions()["knee-extension"]), trunk_angle(load_actions()["elbow-flexion"])
    (90.0, 0.0)
    """
    given = action.figure.trunk
    return given if given is not None else {"supine": 0.0, "seated": 90.0}[action.position]


def hip_angle(action: Action, joints: Joints) -> float:
    """Return the flexion of the hip of one side, degrees.

    Examples
    --------
    >>> seated = load_actions()["knee-extension"]
    >>> hip_angle(seated, Joints()), hip_angle(seated, Joints(hip=45.0))
    (90.0, 45.0)
    """
    return trunk_angle(action) if joints.hip is None else joints.hip


def knee_angle(action: Action, joints: Joints) -> float:
    """Return the flexion of the knee of one side, degrees.

    Examples
    --------
    >>> supine = load_actions()["hip-flexion"]
    >>> knee_angle(supine, Joints()), knee_angle(supine, Joints(knee=90.0))
    (0.0, 90.0)
    """
    return {"supine": 0.0, "seated": 90.0}[action.position] if joints.knee is None else joints.knee


def joint_angle(action: Action) -> float | None:
    """Return the angle of the joint that the action moves, in the direction in which it moves it.

    Returns
    -------
    float or None
        Degrees, in the signs of `Joints`; None when the key names no joint and movement that are known.

    Examples
    --------
    >>> actions = load_actions()
    >>> joint_angle(actions["knee-extension"]), joint_angle(actions["shoulder-abduction"])
    (90.0, 45.0)
    """
    joint, _, movement = action.key.partition("-")
    name = joint + _DIRECTIONS.get(movement, "?")
    joints = action.figure.tested
    if name == "hip":
        return hip_angle(action, joints)
    if name == "knee":
        return knee_angle(action, joints)
    angle: float | None = getattr(joints, name, None)
    return angle


_DIRECTIONS = {
    **dict.fromkeys(("flexion", "extension", "dorsiflexion", "plantarflexion"), ""),
    **dict.fromkeys(("abduction", "adduction"), "_out"),
    **dict.fromkeys(("external-rotation", "internal-rotation"), "_turn"),
}
"""The ending of the field of `Joints` that a movement changes."""


def in_language(action: Action, language: str) -> Action:
    """Return the action with its words in a language, those that are missing in English.

    Examples
    --------
    >>> in_language(load_actions()["knee-extension"], "de").name
    'Knieextension'
    """
    wording = action.words.get(language, Wording())
    told = {name: text for name, text in msgspec.structs.asdict(wording).items() if text is not None}
    return msgspec.structs.replace(action, **told)
