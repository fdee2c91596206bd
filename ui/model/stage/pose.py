"""The body in space, from the joint angles of an action: forward kinematics, bone by bone.

Lengths are shares of the body height. Axes: x along a lying body towards the feet, y towards the tested side,
z up. Every bone carries its own directions: `along` to its far end, `front` and `outer` as in a straight body
with the palms to the front. The rotations below turn one of them towards another, so that left and right need
no rule of their own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.battery.actions import Action, Face, Joints, Place, Segment, hip_angle, knee_angle, trunk_angle

Owner = Literal["tested", "other"]

# Drillis and Contini 1966, Body Segment Parameters (from memory): shares of the body height. The widths are those
# between the joints, a little less than between the outlines. "foot" is what lies before the ankle.
LENGTHS: dict[Segment, float] = {
    "head": 0.182,
    "trunk": 0.288,
    "shoulders": 0.130,
    "pelvis": 0.065,
    "upper-arm": 0.186,
    "forearm": 0.146,
    "hand": 0.108,
    "thigh": 0.245,
    "lower-leg": 0.246,
    "foot": 0.114,
}

# Half of what a stroke is wide: ours, for the look of it.
RADII: dict[Segment, float] = {
    "head": 0.060,
    "trunk": 0.042,
    "shoulders": 0.042,
    "pelvis": 0.042,
    "upper-arm": 0.022,
    "forearm": 0.019,
    "hand": 0.015,
    "thigh": 0.031,
    "lower-leg": 0.024,
    "foot": 0.017,
}
BREADTH = 0.100
"""Half of the trunk, from the middle to its outer face."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bone:
    """One segment in space; directions are unit vectors, shape (3,)."""

    segment: Segment
    begin: FloatArray
    along: FloatArray
    front: FloatArray
    outer: FloatArray

    @property
    def end(self) -> FloatArray:
        """Its far end."""
        return self.point(1.0)

    @property
    def radius(self) -> float:
        """Half its thickness."""
        return RADII[self.segment]

    def point(self, at: float) -> FloatArray:
        """Return the point of its axis at a share of its length."""
        return self.begin + at * LENGTHS[self.segment] * self.along

    def normal(self, face: Face) -> FloatArray:
        """Return the direction in which a face looks."""
        return {"front": self.front, "back": -self.front, "outer": self.outer, "inner": -self.outer}[face]

    def surface(self, face: Face) -> float:
        """Return how far a face is from the axis."""
        return BREADTH if self.segment == "trunk" and face in {"outer", "inner"} else self.radius

    def bent(self, degrees: float) -> Bone:
        """Return the bone turned in its joint, its far end towards its front."""
        along, front = _turned(self.along, self.front, degrees)
        return replace(self, along=along, front=front)

    def spread(self, degrees: float) -> Bone:
        """Return the bone turned in its joint, its far end outwards."""
        along, outer = _turned(self.along, self.outer, degrees)
        return replace(self, along=along, outer=outer)

    def rolled(self, degrees: float) -> Bone:
        """Return the bone turned about its own length, its front outwards."""
        front, outer = _turned(self.front, self.outer, degrees)
        return replace(self, front=front, outer=outer)

    def followed_by(self, segment: Segment) -> Bone:
        """Return the next bone of the limb, in line with this one."""
        return replace(self, segment=segment, begin=self.end)


def _turned(one: FloatArray, other: FloatArray, degrees: float) -> tuple[FloatArray, FloatArray]:
    """Turn `one` towards `other`, which goes along."""
    cosine, sine = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return cosine * one + sine * other, cosine * other - sine * one


Pose = dict[tuple[Owner, Segment], Bone]
"""Every bone of both sides; head and trunk are there for both, with their own outer side."""


def pose_of(action: Action) -> Pose:
    """Return the body of an action in space, the middle between the hips at the origin.

    Examples
    --------
    >>> from analysis.battery.actions import load_actions
    >>> shin = pose_of(load_actions()["knee-extension"])["tested", "lower-leg"]
    >>> [round(float(part), 3) for part in shin.along]
    [0.0, 0.0, -1.0]
    """
    figure = action.figure
    upright = trunk_angle(action)
    tested = _side(action, figure.tested, upright, out=1.0)
    other = _side(action, figure.other, upright, out=-1.0)
    return {("tested", bone.segment): bone for bone in tested} | {("other", bone.segment): bone for bone in other}


def bone_of(pose: Pose, place: Place) -> Bone:
    """Return the bone of a place."""
    return pose[place.of, place.on]


def _side(action: Action, joints: Joints, upright: float, *, out: float) -> Iterator[Bone]:
    """Yield head, trunk and the limbs of one side; `out` is the direction of its outer side along y."""
    tilt = np.radians(upright)
    down = np.array([np.cos(tilt), 0.0, -np.sin(tilt)])
    front = np.array([np.sin(tilt), 0.0, np.cos(tilt)])
    outer = np.array([0.0, out, 0.0])
    neck = -LENGTHS["trunk"] * down
    trunk = Bone(segment="trunk", begin=neck, along=down, front=front, outer=outer)
    shoulders = Bone(segment="shoulders", begin=neck, along=outer, front=front, outer=-down)
    pelvis = replace(shoulders, segment="pelvis", begin=np.zeros(3))
    yield trunk
    yield shoulders
    yield pelvis
    yield Bone(segment="head", begin=neck, along=-down, front=front, outer=outer).bent(action.figure.neck)
    yield from _arm(replace(trunk, segment="upper-arm", begin=shoulders.end), joints)
    yield from _leg(replace(trunk, segment="thigh", begin=pelvis.end), joints, action)


def _arm(hanging: Bone, joints: Joints) -> Iterator[Bone]:
    upper = hanging.bent(joints.shoulder).spread(joints.shoulder_out).rolled(joints.shoulder_turn)
    forearm = upper.followed_by("forearm").bent(joints.elbow)
    hand = forearm.followed_by("hand").rolled(-joints.palm).bent(joints.wrist)
    yield from (upper, forearm, hand)


def _leg(straight: Bone, joints: Joints, action: Action) -> Iterator[Bone]:
    thigh = straight.bent(hip_angle(action, joints)).spread(joints.hip_out).rolled(joints.hip_turn)
    lower = thigh.followed_by("lower-leg").bent(-knee_angle(action, joints))
    foot = lower.followed_by("foot").bent(90.0 + joints.ankle)
    yield from (thigh, lower, foot)
