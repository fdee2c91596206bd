"""Figures of actions: a body whose parts keep their lengths, with pad, push and marks where the action says."""

import itertools

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.battery.actions import Action, Figure, Joints, Place, load_actions
from ui.model.drawing import MARK_REACH, SCALE
from ui.model.stage.figure import GAP, LIMBS, figure_of
from ui.model.stage.pose import LENGTHS, RADII, bone_of, pose_of

ACTIONS = load_actions()
SIDES = ("left", "right")
PLANE = [key for key, action in ACTIONS.items() if action.figure.view in {"side", "above"}]
"""Where the push lies in the plane of the drawing."""

HEAD, FEET, UP, DOWN, FORWARD, BACK = (-1, 0), (1, 0), (0, -1), (0, 1), (1, 0), (-1, 0)
PUSHES = {
    "shoulder-flexion": HEAD,
    "shoulder-extension": FEET,
    "shoulder-abduction": (-(0.5**0.5), 0.5**0.5),
    "elbow-flexion": HEAD,
    "elbow-extension": FEET,
    "wrist-extension": UP,
    "hip-flexion": HEAD,
    "hip-abduction": (-np.sin(np.radians(10)), np.cos(np.radians(10))),
    "knee-flexion": BACK,
    "knee-extension": FORWARD,
    "ankle-dorsiflexion": HEAD,
}
"""Where the arrow points for the right side: the head of a lying person is on the left, a sitting one looks right."""

OWN = {
    "key": "toe-tap",
    "name": "Toe tap",
    "region": "leg",
    "position": "seated",
    "limb": "any",
    "pad": "any",
    "push": "any",
    "steady": "any",
}


def own(**figure):
    return msgspec.convert({**OWN, "figure": figure}, Action)


def points_of(drawing):
    """Return every point with how far its stroke reaches."""
    found = [(point, line.width / 2) for line in (*drawing.lines, *drawing.couch) for point in line.points]
    found.append((drawing.head.centre, drawing.head.radius))
    marks = [point for mark in drawing.steady_marks for point in mark] + list(drawing.pad or ())
    if drawing.arrow:
        marks += [drawing.arrow.tail, drawing.arrow.tip, *drawing.arrow.barbs]
    return found + [(point, MARK_REACH) for point in marks]


def assert_inside(drawing):
    for point, reach in points_of(drawing):
        assert np.all(np.subtract(point, reach) >= -1e-9), point
        assert np.all(np.add(point, reach) <= 1 + 1e-9), point


def ends_of(drawing, segment):
    """Return begin and end of a stroke of the tested limb; of the foot, ankle and toes."""
    line = next(line for line in drawing.lines if line.tested and line.name == segment)
    begin, end = (np.array(point) for point in line.points)
    return (np.array(drawing.joints[2]), end) if segment == "foot" else (begin, end)


def push_of(drawing):
    return np.subtract(drawing.arrow.tip, drawing.arrow.tail) / np.linalg.norm(
        np.subtract(drawing.arrow.tip, drawing.arrow.tail)
    )


# the body


@pytest.mark.parametrize("key", ACTIONS)
def test_every_bone_has_its_length_and_begins_where_the_last_ended(key):
    pose = pose_of(ACTIONS[key])
    for (_, segment), bone in pose.items():
        assert np.linalg.norm(bone.end - bone.begin) == pytest.approx(LENGTHS[segment])
    for owner in ("tested", "other"):
        for base, limb in (("shoulders", LIMBS["arm"]), ("pelvis", LIMBS["leg"])):
            chain = [pose[owner, segment] for segment in (base, *limb)]
            for one, following in itertools.pairwise(chain):
                np.testing.assert_allclose(following.begin, one.end, atol=1e-12)


angles = st.floats(-180, 180)
places = st.builds(
    Place,
    on=st.sampled_from(list(LENGTHS)),
    at=st.floats(0, 1),
    face=st.sampled_from(["front", "back", "outer", "inner"]),
    of=st.sampled_from(["tested", "other"]),
)
joints = st.builds(Joints, **dict.fromkeys(Joints.__struct_fields__, angles))


@given(tested=joints, other=joints, trunk=angles, neck=angles, position=st.sampled_from(["supine", "seated"]))
def test_directions_of_every_bone_stay_at_right_angles(tested, other, trunk, neck, position):
    figure = Figure(tested=tested, other=other, trunk=trunk, neck=neck)
    action = msgspec.structs.replace(ACTIONS["hip-flexion"], figure=figure, position=position)
    for bone in pose_of(action).values():
        frame = np.array([bone.along, bone.front, bone.outer])
        np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-9)


@pytest.mark.parametrize("key", [key for key, action in ACTIONS.items() if action.figure.view == "side"])
@pytest.mark.parametrize("side", SIDES)
def test_segments_of_the_tested_limb_are_equally_long_in_all_drawings_from_the_side(key, side):
    action = ACTIONS[key]
    drawing = figure_of(action, side)
    for segment in LIMBS[action.region]:
        begin, end = ends_of(drawing, segment)
        assert np.linalg.norm(end - begin) == pytest.approx(SCALE * LENGTHS[segment]), segment


@pytest.mark.parametrize(
    ("joints", "segment", "direction"),
    [
        # lying: x to the feet, y to the tested side, z up
        ({}, "upper-arm", (1, 0, 0)),
        ({"shoulder": 90}, "upper-arm", (0, 0, 1)),
        ({"shoulder": 180}, "upper-arm", (-1, 0, 0)),
        ({"shoulder_out": 90}, "upper-arm", (0, 1, 0)),
        ({"elbow": 90}, "forearm", (0, 0, 1)),
        ({"elbow": 90, "shoulder_turn": 90}, "forearm", (0, 1, 0)),  # outwards
        ({"wrist": 90}, "hand", (0, 0, 1)),  # to the palm
        ({"wrist": -90, "palm": 180}, "hand", (0, 0, 1)),  # to the back of the hand, which is up
        ({"wrist": 90, "palm": 90}, "hand", (0, -1, 0)),  # to the body
        ({"hip": 90}, "thigh", (0, 0, 1)),
        ({"hip_out": 90}, "thigh", (0, 1, 0)),
        ({"knee": 90}, "lower-leg", (0, 0, -1)),
        ({"hip": 90, "knee": 90}, "lower-leg", (1, 0, 0)),
        ({"hip": 90, "knee": 90, "hip_turn": 90}, "lower-leg", (0, -1, 0)),  # external rotation: foot inwards
        ({}, "foot", (0, 0, 1)),
        ({"ankle": -90}, "foot", (1, 0, 0)),  # pointed
    ],
)
def test_joint_moves_as_its_name_says(joints, segment, direction):
    figure = msgspec.convert({"tested": joints}, Figure)
    pose = pose_of(msgspec.structs.replace(ACTIONS["hip-flexion"], figure=figure))
    np.testing.assert_allclose(pose["tested", segment].along, direction, atol=1e-12)


def test_thigh_is_level_when_the_hip_is_left_out_however_upright_the_trunk_is():
    for trunk in (0, 30, 90):
        thigh = pose_of(own(trunk=trunk))["tested", "thigh"]
        np.testing.assert_allclose(thigh.along, (1, 0, 0), atol=1e-12)


# pad, push and marks


@pytest.mark.parametrize("key", PLANE)
@pytest.mark.parametrize("side", SIDES)
def test_pad_lies_on_its_segment_at_its_place(key, side):
    action = ACTIONS[key]
    place, drawing = action.figure.pad, figure_of(action, side)
    begin, end = ends_of(drawing, place.on)
    corners = np.array(drawing.pad)
    inner = corners[:2].mean(axis=0)
    along = (end - begin) / np.linalg.norm(end - begin)
    foot = begin + place.at * (end - begin)
    off = inner - foot
    assert off @ along == pytest.approx(0.0, abs=1e-9)
    assert np.linalg.norm(off) == pytest.approx(SCALE * (RADII[place.on] + GAP))
    assert abs((corners[1] - corners[0]) @ along) == pytest.approx(np.linalg.norm(corners[1] - corners[0]))


@pytest.mark.parametrize("key", PLANE)
@pytest.mark.parametrize("side", SIDES)
def test_push_is_at_right_angles_to_the_segment_and_away_from_it(key, side):
    action = ACTIONS[key]
    drawing = figure_of(action, side)
    begin, end = ends_of(drawing, action.figure.pad.on)
    assert push_of(drawing) @ (end - begin) == pytest.approx(0.0, abs=1e-9)
    middle = np.mean(drawing.pad, axis=0)
    on_segment = begin + action.figure.pad.at * (end - begin)
    assert push_of(drawing) @ (middle - on_segment) > 0
    assert push_of(drawing) @ (np.array(drawing.arrow.tail) - middle) > 0


@pytest.mark.parametrize("key", ACTIONS)
def test_push_is_at_right_angles_to_the_segment_in_space(key):
    place = ACTIONS[key].figure.pad
    bone = bone_of(pose_of(ACTIONS[key]), place)
    assert bone.normal(place.face) @ bone.along == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("key", PUSHES)
def test_push_points_as_the_action_says(key):
    np.testing.assert_allclose(push_of(figure_of(ACTIONS[key], "right")), PUSHES[key], atol=1e-9)


@pytest.mark.parametrize("side", SIDES)
def test_rotations_push_the_forearm_away_from_the_body_and_over_it(side):
    for key, sign in (("shoulder-external-rotation", 1), ("shoulder-internal-rotation", -1)):
        drawing = figure_of(ACTIONS[key], side)
        elbow_side = np.sign(drawing.joints[1][0] - drawing.head.centre[0])
        assert sign * elbow_side * push_of(drawing)[0] > 0.8, key


@pytest.mark.parametrize("side", SIDES)
def test_knee_extension_pushes_away_from_the_shin_forwards(side):
    drawing = figure_of(ACTIONS["knee-extension"], side)
    _, knee, ankle = drawing.joints
    hip = drawing.joints[0]
    forwards = np.sign(knee[0] - hip[0])
    assert forwards == (1 if side == "right" else -1)
    assert forwards * drawing.arrow.tip[0] > forwards * drawing.arrow.tail[0] > forwards * ankle[0]


@pytest.mark.parametrize("key", ACTIONS)
def test_steady_marks_touch_the_body_and_not_pad_or_arrow(key):
    drawing = figure_of(ACTIONS[key], "right")
    assert len(drawing.steady_marks) == len(ACTIONS[key].figure.steady)
    occupied = np.array([*drawing.pad, drawing.arrow.tail, drawing.arrow.tip])
    for tip, *back in drawing.steady_marks:
        nearest = min(distance(np.array(tip), line) for line in drawing.lines)
        assert nearest <= SCALE * 2 * GAP
        middle = np.mean([tip, *back], axis=0)
        assert np.min(np.linalg.norm(occupied - middle, axis=1)) > 0.03


def distance(point, line):
    """Return how far a point is from the outline of a stroke; negative inside."""
    corners = [np.array(corner) for corner in line.points]
    pairs = zip(corners, corners[1:] + (corners[:1] if line.filled else []), strict=False)
    return min(to_segment(point, *pair) for pair in pairs) - line.width / 2


def to_segment(point, begin, end):
    span = end - begin
    at = np.clip((point - begin) @ span / max(span @ span, 1e-12), 0.0, 1.0)
    return np.linalg.norm(point - begin - at * span)


# the frame


@pytest.mark.parametrize("key", ACTIONS)
@pytest.mark.parametrize("side", [*SIDES, None])
def test_everything_is_inside_the_frame(key, side):
    assert_inside(figure_of(ACTIONS[key], side))


@pytest.mark.parametrize("key", ACTIONS)
def test_left_is_the_mirror_image_of_right(key):
    right = sorted(
        (round(1 - x, 9), round(y, 9), reach) for (x, y), reach in points_of(figure_of(ACTIONS[key], "right"))
    )
    left = sorted((round(x, 9), round(y, 9), reach) for (x, y), reach in points_of(figure_of(ACTIONS[key], "left")))
    np.testing.assert_allclose(left, right, atol=1e-8)


def test_side_that_is_not_known_is_drawn_as_the_right_one():
    assert figure_of(ACTIONS["elbow-flexion"]) == figure_of(ACTIONS["elbow-flexion"], "right")


def test_box_is_what_the_drawing_takes():
    drawing = figure_of(ACTIONS["hip-flexion"], "right")
    spots = points_of(drawing)
    low = np.min([np.subtract(point, reach) for point, reach in spots], axis=0)
    high = np.max([np.add(point, reach) for point, reach in spots], axis=0)
    assert drawing.box == pytest.approx((*low, *high))


@given(
    tested=joints,
    trunk=angles,
    view=st.sampled_from(["side", "above", "aslant", "feet"]),
    place=places,
    position=st.sampled_from(["supine", "seated"]),
)
def test_any_figure_is_inside_the_frame(tested, trunk, view, place, position):
    figure = Figure(tested=tested, trunk=trunk, view=view, pad=place, steady=(place,), block=place)
    action = msgspec.structs.replace(ACTIONS["hip-flexion"], figure=figure, position=position)
    assert_inside(figure_of(action, "left"))


def test_body_with_an_arm_overhead_is_drawn_smaller():
    overhead = msgspec.structs.replace(
        ACTIONS["shoulder-flexion"],
        figure=Figure(tested=Joints(shoulder=180), pad=Place(on="hand", at=1.0)),
    )
    begin, end = ends_of(figure_of(overhead, "right"), "upper-arm")
    assert np.linalg.norm(end - begin) < SCALE * LENGTHS["upper-arm"]


# actions of one's own


def test_action_without_a_figure_is_the_mere_position():
    drawing = figure_of(own(), "right")
    assert (drawing.pad, drawing.arrow, drawing.steady_marks) == (None, None, ())
    hip, knee, ankle = drawing.joints
    assert hip[1] == pytest.approx(knee[1])  # it sits
    assert knee[0] == pytest.approx(ankle[0])


def test_action_of_ones_own_gets_pad_and_push(tmp_path):
    path = tmp_path / "mine.toml"
    text = [f'{name} = "{value}"' for name, value in OWN.items()]
    figure = '[action.figure]\npad = { on = "foot", at = 0.8, face = "back" }\n'
    path.write_text("\n".join(["[[action]]", *text, figure]), encoding="utf-8")
    drawing = figure_of(load_actions(str(path))["toe-tap"], "right")
    assert push_of(drawing) == pytest.approx(DOWN)
    assert_inside(drawing)


def test_push_towards_the_viewer_has_no_arrow():
    drawing = figure_of(own(pad={"on": "thigh", "at": 0.5, "face": "outer"}), "right")
    assert drawing.arrow is None
    assert drawing.pad is not None


def test_block_reaches_from_the_calf_to_the_couch():
    drawing = figure_of(ACTIONS["hip-flexion"], "right")
    plate, post = (line for line in drawing.couch if line.name == "block")
    top = next(line for line in drawing.couch if line.name == "top")
    begin, end = ends_of(drawing, "lower-leg")
    assert begin[0] < plate.points[0][0] < plate.points[1][0] < end[0]
    assert post.points[1][1] == pytest.approx(top.points[0][1])


def test_couch_ends_above_the_heels_only_where_they_are_free():
    for key, free in (("ankle-dorsiflexion", True), ("elbow-flexion", False)):
        drawing = figure_of(ACTIONS[key], "right")
        edge = max(point[0] for line in drawing.couch for point in line.points)
        ankle = max(point[0] for line in drawing.lines if line.name == "lower-leg" for point in line.points)
        assert (edge < ankle) is free
