"""Actions with their figures and their words: what comes with the program, and what a user gets wrong."""

import msgspec
import pytest

from analysis.battery.actions import Figure, Joints, Wording, in_language, joint_angle, load_actions
from analysis.errors import ActionsError

ONE = """
[[action]]
key = "neck-flexion"
name = "Neck flexion"
region = "arm"
position = "supine"
limb = "head on the couch"
pad = "forehead"
push = "chin to the chest"
steady = "shoulders"
"""
FIGURE = """
[action.figure]
neck = 20
tested = { shoulder = 30 }
pad = { on = "head", at = 0.8 }
steady = [{ on = "trunk", at = 0.1 }]
"""
TEXTS = ("name", "limb", "pad", "push", "steady")


@pytest.fixture
def written(tmp_path):
    def write(text, name="mine.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def test_figure_of_ones_own_is_read(written):
    action = load_actions(written(ONE + FIGURE))["neck-flexion"]
    assert action.figure.neck == 20.0
    assert action.figure.tested.shoulder == 30.0
    assert (action.figure.pad.on, action.figure.pad.at, action.figure.pad.face) == ("head", 0.8, "front")


def test_joint_that_is_left_out_is_straight_and_hip_and_knee_follow_the_position():
    left_out = msgspec.structs.asdict(Joints())
    assert {joint for joint, angle in left_out.items() if angle is None} == {"hip", "knee"}
    assert {angle for angle in left_out.values() if angle is not None} == {0.0}


def test_action_without_a_figure_has_the_plain_one(written):
    assert load_actions(written(ONE))["neck-flexion"].figure == Figure()


def test_all_thirteen_say_where_pad_and_hands_go():
    for action in load_actions().values():
        assert action.figure.pad is not None, action.key
        assert action.figure.steady, action.key


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("shoulder = 30", "shoulder = 270", r"key action\[0\]\.figure\.tested\.shoulder: expected `float` <= 180"),
        ("at = 0.8", "at = 1.5", r"key action\[0\]\.figure\.pad\.at: expected `float` <= 1\.0"),
        ('on = "head"', 'on = "nose"', r"key action\[0\]\.figure\.pad\.on: invalid enum value 'nose'"),
        ("neck = 20", "nek = 20", r"key action\[0\]\.figure: .*unknown field `nek`"),
        ('pad = { on = "head", at = 0.8 }', 'pad = { on = "head" }', r"figure\.pad: .*missing required field `at`"),
        ("neck = 20", 'view = "behind"', r"figure\.view: invalid enum value 'behind'"),
    ],
)
def test_wrong_figure_names_file_and_key(written, old, new, message):
    text = ONE + FIGURE
    assert old in text
    with pytest.raises(ActionsError, match=rf"mine\.toml: .*{message}"):
        load_actions(written(text.replace(old, new)))


def test_every_action_is_there_in_german_as_a_whole():
    for action in load_actions().values():
        told = in_language(action, "de")
        for name in TEXTS:
            assert getattr(told, name), (action.key, name)
            assert getattr(told, name) != getattr(action, name), (action.key, name)


def test_language_that_is_missing_is_english():
    action = load_actions()["hip-flexion"]
    assert in_language(action, "fi") == action


def test_words_that_are_missing_are_english(written):
    action = load_actions(written(ONE + '[action.words.de]\nname = "Nackenflexion"\n'))["neck-flexion"]
    told = in_language(action, "de")
    assert (told.name, told.pad) == ("Nackenflexion", "forehead")
    assert told == msgspec.structs.replace(action, name="Nackenflexion")


def test_wording_has_exactly_the_texts_of_an_action():
    assert tuple(Wording.__struct_fields__) == TEXTS


@pytest.mark.parametrize(
    ("action", "angle"),
    [
        ("shoulder-flexion", 90.0),
        ("shoulder-abduction", 45.0),
        ("shoulder-external-rotation", 0.0),
        ("elbow-extension", 90.0),
        ("wrist-extension", 0.0),
        ("hip-flexion", 90.0),
        ("hip-abduction", 10.0),
        ("knee-flexion", 90.0),
        ("knee-extension", 90.0),
        ("ankle-dorsiflexion", 0.0),
    ],
)
def test_angle_of_the_joint_is_that_of_its_position(action, angle):
    # as the limb's words in the file of actions say it
    assert joint_angle(load_actions()[action]) == angle


@pytest.mark.parametrize(
    ("position", "key", "angle"), [("seated", "hip-extension", 90.0), ("supine", "hip-extension", 0.0)]
)
def test_hip_that_is_left_out_follows_the_trunk(position, key, angle):
    action = msgspec.structs.replace(load_actions()["hip-abduction"], key=key, position=position)
    assert joint_angle(action) == angle


def test_knee_that_is_left_out_is_straight_on_a_couch():
    assert joint_angle(msgspec.structs.replace(load_actions()["knee-flexion"], position="supine")) == 0.0


@pytest.mark.parametrize("key", ["neck-flexion", "knee-shaking", "knee", "palm-flexion-fast"])
def test_joint_or_movement_that_is_not_known_has_no_angle(key):
    assert joint_angle(msgspec.structs.replace(load_actions()["knee-flexion"], key=key)) is None
