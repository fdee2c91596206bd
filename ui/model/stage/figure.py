"""The drawn figure of an action, in a unit square: the body seen from one direction, pad, push and steady marks.

The body comes from `ui.model.stage.pose`; here it is looked at from one of a few directions, without perspective, so
that what is level or upright stays so. The viewer is on the tested side or at the feet. The left side is the
mirror image of the right one: lying on the back, a person seen from the right has the head on the left.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from acquire.values.arrays import FloatArray
from acquire.values.records import Side
from analysis.battery.actions import Action, Figure, Place, Segment
from ui.model.drawing import Arrow, Circle, Drawing, Line, Point, framed, point
from ui.model.stage.pose import BREADTH, LENGTHS, RADII, Bone, Owner, Pose, bone_of, pose_of

PAD_LENGTH, PAD_THICKNESS, GAP = 0.080, 0.034, 0.006
ARROW_LENGTH, BARB = 0.110, 0.032
MARK_LENGTH, MARK_WIDTH = 0.052, 0.046
END_ON = 0.3
"""Seen shorter than this share of its length, a direction points at the viewer."""

VIEWS = {"side": (0.0, 0.0), "above": (0.0, 90.0), "aslant": (0.0, 34.0), "feet": (90.0, 30.0)}
"""Where the viewer is: from the tested side (0 degrees) towards the feet (90), and how high above the horizon."""

LIMBS: dict[str, tuple[Segment, ...]] = {
    "arm": ("upper-arm", "forearm", "hand"),
    "leg": ("thigh", "lower-leg", "foot"),
}
HEEL, NOSE, SHOULDER = 0.038, 0.014, 0.115
"""How far the foot reaches behind the ankle, the nose before the face, the upper trunk to its side: body heights."""


def figure_of(action: Action, side: Side | None = None) -> Drawing:
    """Return the drawing of an action.

    Parameters
    ----------
    action : Action
        With its figure; the mere position is drawn when it has none.
    side : {"left", "right"}, optional
        The tested side; drawn as the right one when it is not known.

    Examples
    --------
    >>> from analysis.battery.actions import load_actions
    >>> arrow = figure_of(load_actions()["knee-extension"], "right").arrow
    >>> arrow.tip[0] > arrow.tail[0]
    True
    """
    pose = pose_of(action)
    seen = _Seen(*VIEWS[action.figure.view], mirrored=side == "left")
    return framed(_draw(action, pose, seen))


class _Seen:
    """How points in space come into the picture, in body heights, not yet in the frame."""

    def __init__(self, round_to_feet: float, height: float, *, mirrored: bool) -> None:
        turn, lift = np.radians(round_to_feet), np.radians(height)
        level = np.array([np.sin(turn), np.cos(turn), 0.0])
        zenith = np.array([0.0, 0.0, 1.0])
        self._near = np.cos(lift) * level + np.sin(lift) * zenith
        self._up = np.cos(lift) * zenith - np.sin(lift) * level
        self._across = (-1.0 if mirrored else 1.0) * np.array([np.cos(turn), -np.sin(turn), 0.0])

    def flat(self, vector: FloatArray) -> FloatArray:
        """Return a point or a direction in the picture, shape (2,)."""
        return np.array([vector @ self._across, -(vector @ self._up)])

    def nearness(self, bones: Sequence[Bone]) -> float:
        """Return how near the middle of bones is to the viewer."""
        return round(float(np.mean([bone.point(0.5) @ self._near for bone in bones])), 6)


def _draw(action: Action, pose: Pose, seen: _Seen) -> Drawing:
    figure = action.figure
    limb = LIMBS[action.region]
    places = [pose["tested", segment].begin for segment in limb]
    head = pose["tested", "head"]
    pad = None if figure.pad is None else _spot(pose, figure.pad, seen)
    return Drawing(
        lines=tuple(_body(action, pose, seen)),
        joints=tuple(point(seen.flat(place)) for place in places),
        head=Circle(centre=point(seen.flat(_head_middle(head))), radius=head.radius),
        couch=tuple(_couch(action, pose, seen)),
        pad=None if pad is None else _pad(pad),
        arrow=None if pad is None else _arrow(pad),
        steady_marks=tuple(_mark(_spot(pose, place, seen)) for place in figure.steady),
        box=(0.0, 0.0, 1.0, 1.0),
    )


# the body


def _body(action: Action, pose: Pose, seen: _Seen) -> Iterator[Line]:
    """Yield the limbs and the trunk, far to near; of those equally near, the tested ones last."""
    parts: list[tuple[float, list[Line]]] = []
    owners: tuple[Owner, ...] = ("other", "tested")
    for owner in owners:
        for region in ("leg", "arm"):
            bones = [pose[owner, segment] for segment in LIMBS[region]]
            tested = owner == "tested" and region == action.region
            parts.append((seen.nearness(bones), list(_limb(f"{owner} {region}", bones, seen, tested=tested))))
    trunk = (seen.nearness([pose["tested", "trunk"]]), list(_trunk(pose, seen)))
    parts.insert(2, trunk)
    for _, lines in sorted(parts, key=lambda part: part[0]):
        yield from lines


def _limb(group: str, bones: Iterable[Bone], seen: _Seen, *, tested: bool) -> Iterator[Line]:
    for bone in bones:
        begin = bone.begin - (HEEL * bone.along if bone.segment == "foot" else 0.0)
        yield Line(
            name=bone.segment,
            points=(point(seen.flat(begin)), point(seen.flat(bone.end))),
            width=2.0 * bone.radius,
            group=group,
            tested=tested,
        )


def _trunk(pose: Pose, seen: _Seen) -> Iterator[Line]:
    head, trunk = pose["tested", "head"], pose["tested", "trunk"]
    yield _trunk_line("neck", [trunk.begin, head.point(0.5)], 0.042, seen)
    yield _trunk_line("trunk", _corners(trunk), 2.0 * trunk.radius, seen, filled=True)
    if np.linalg.norm(seen.flat(head.front)) > END_ON:
        face = _head_middle(head) + head.radius * head.front
        yield _trunk_line("nose", [face, face + NOSE * head.front], 0.02, seen)


def _corners(trunk: Bone) -> list[FloatArray]:
    """Return the corners of the trunk between shoulders and hips, so far in that the stroke ends at its outline."""
    top, bottom = (SHOULDER - trunk.radius) * trunk.outer, (BREADTH - trunk.radius) * trunk.outer
    return [trunk.begin + top, trunk.begin - top, trunk.end - bottom, trunk.end + bottom]


def _head_middle(head: Bone) -> FloatArray:
    return head.end - head.radius * head.along


def _trunk_line(name: str, points: Iterable[FloatArray], width: float, seen: _Seen, *, filled: bool = False) -> Line:
    flat = tuple(point(seen.flat(place)) for place in points)
    return Line(name=name, points=flat, width=width, group="trunk", filled=filled)


# couch, seat and block


def _couch(action: Action, pose: Pose, seen: _Seen) -> Iterator[Line]:
    seat = action.position == "seated"
    left, right = _seat_ends() if seat else _couch_ends(action.figure, pose)
    half, top, floor = (0.19, -RADII["thigh"] - 0.012, -0.36) if seat else (0.25, -RADII["trunk"] - 0.012, -0.25)
    for x in (left + 0.05,) if seat else (left + 0.12, right - 0.12):
        for y in (half, -half):
            yield _furniture("post", [np.array([x, y, top]), np.array([x, y, floor])], seen)
    slab = [(left, half), (right, half), (right, -half), (left, -half)]
    yield _furniture("top", [np.array([x, y, top]) for x, y in slab], seen, filled=True)
    if action.figure.block is not None:
        yield from _block(bone_of(pose, action.figure.block), action.figure.block, top, seen)


def _seat_ends() -> tuple[float, float]:
    return -0.14, 0.72 * LENGTHS["thigh"]


def _couch_ends(figure: Figure, pose: Pose) -> tuple[float, float]:
    """Return where the couch begins and ends: under the whole straight body, or to the calves."""
    legs = LENGTHS["thigh"] + LENGTHS["lower-leg"]
    head = pose["tested", "head"]
    begin = min(float(head.end[0]), -LENGTHS["trunk"]) - 0.03
    return begin, (legs - 0.07) if figure.heels_free else (legs + 0.06)


def _block(bone: Bone, place: Place, top: float, seen: _Seen) -> Iterator[Line]:
    """Yield a block that carries a segment: a plate under it and a post down to the couch."""
    under = bone.point(place.at) + (bone.radius + 0.014) * bone.normal(place.face)
    reach = 0.3 * LENGTHS[bone.segment] * bone.along
    yield _furniture("block", [under - reach, under + reach], seen)
    yield _furniture("block", [under, np.array([under[0], under[1], top])], seen)


def _furniture(name: str, points: Iterable[FloatArray], seen: _Seen, *, filled: bool = False) -> Line:
    flat = tuple(point(seen.flat(place)) for place in points)
    return Line(name=name, points=flat, width=0.024, filled=filled)


# pad, push, steady


class _Spot(NamedTuple):
    """A place on the body in the picture."""

    base: FloatArray
    """Its point on the outline, shape (2,)."""
    along: FloatArray
    away: FloatArray
    """Unit vectors along the segment and away from it, shape (2,)."""
    seen: bool
    """Whether it looks to the side; where it looks at the viewer, `base` is on the axis and `away` is made up."""


def _spot(pose: Pose, place: Place, seen: _Seen) -> _Spot:
    bone = bone_of(pose, place)
    along, away = seen.flat(bone.along), seen.flat(bone.normal(place.face))
    visible = bool(np.linalg.norm(away) > END_ON)
    if not visible:
        away = _beside(along)
    if np.linalg.norm(along) <= END_ON:
        along = _beside(away)
    along, away = along / np.linalg.norm(along), away / np.linalg.norm(away)
    base = seen.flat(bone.point(place.at)) + (bone.surface(place.face) if visible else 0.0) * away
    return _Spot(base, along, away, visible)


def _beside(direction: FloatArray) -> FloatArray:
    """Return a direction at a right angle."""
    return np.array([direction[1], -direction[0]])


def _pad(spot: _Spot) -> tuple[Point, ...]:
    centre = spot.base + (GAP + 0.5 * PAD_THICKNESS) * spot.away
    length, thick = 0.5 * PAD_LENGTH * spot.along, 0.5 * PAD_THICKNESS * spot.away
    return tuple(point(centre + a * length + b * thick) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)))


def _arrow(spot: _Spot) -> Arrow | None:
    """Return the push; none when it points at the viewer, for then no arrow can show it."""
    if not spot.seen:
        return None
    tail = spot.base + (3.0 * GAP + PAD_THICKNESS + 0.008) * spot.away
    tip = tail + ARROW_LENGTH * spot.away
    beside = _beside(spot.away)
    barbs = (point(tip - BARB * (spot.away + beside)), point(tip - BARB * (spot.away - beside)))
    return Arrow(tail=point(tail), tip=point(tip), barbs=barbs)


def _mark(spot: _Spot) -> tuple[Point, Point, Point]:
    tip = spot.base + GAP * spot.away
    back = tip + MARK_LENGTH * spot.away
    beside = 0.5 * MARK_WIDTH * _beside(spot.away)
    return point(tip), point(back + beside), point(back - beside)
