"""Protocol, actions and battery files: what comes with the program, and what a user gets wrong."""

from importlib.resources import files

import pytest

from analysis.actions import find_action, load_actions
from analysis.battery import contexts, load_battery
from analysis.errors import ActionsError, ProtocolError
from analysis.protocol import Protocol, known_protocols, load_protocol
from analysis.sets import agreement_pct, set_state

THIRTEEN = [
    "shoulder-flexion",
    "shoulder-extension",
    "shoulder-abduction",
    "shoulder-external-rotation",
    "shoulder-internal-rotation",
    "elbow-flexion",
    "elbow-extension",
    "wrist-extension",
    "hip-flexion",
    "hip-abduction",
    "knee-flexion",
    "knee-extension",
    "ankle-dorsiflexion",
]


@pytest.fixture
def written(tmp_path):
    def write(text, name="mine.toml"):
        path = tmp_path / name
        path.write_text(text)
        return str(path)

    return write


def standard_text():
    return (files("analysis") / "data" / "protocols" / "ramp-and-hold.toml").read_text()


def test_the_thirteen_actions_are_there_in_their_positions():
    actions = load_actions()
    assert sorted(actions) == sorted(THIRTEEN)
    assert {key for key, action in actions.items() if action.position == "seated"} == {"knee-flexion", "knee-extension"}


def test_known_protocols_load():
    assert [load_protocol(name).name for name in known_protocols()] == list(known_protocols())


def test_equal_limits_have_equal_hashes_whatever_the_comments(written):
    standard = load_protocol()
    commented = load_protocol(written("# mine\n" + standard_text()))
    changed = load_protocol(written(standard_text().replace("reject_below_s = 3.0", "reject_below_s = 2.0"), "b.toml"))
    assert commented.hash == standard.hash
    assert changed.hash != standard.hash
    assert isinstance(changed, Protocol)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("warn_pct = 5.0", "warn_percent = 5.0", r"mine\.toml: key preload: .*unknown field `warn_percent`"),
        ("version = 1", 'version = "one"', r"mine\.toml: key version: expected `int`, got `str`"),
        ("[jerk]", "[jerks]", r"mine\.toml: .*unknown field `jerks`"),
        ("version = 1\n", "", r"mine\.toml: .*missing required field `version`"),
        ("version = 1", "version =", r"mine\.toml: is not valid TOML: .*line 6"),
    ],
)
def test_wrong_protocol_names_file_and_key(written, old, new, message):
    with pytest.raises(ProtocolError, match=message):
        load_protocol(written(standard_text().replace(old, new, 1)))


def test_missing_protocol_lists_what_there_is():
    with pytest.raises(ProtocolError, match=r"no protocol called nope .*comes with: ramp-and-hold"):
        load_protocol("nope")


def test_actions_of_ones_own_are_loaded_and_a_key_twice_refused(written):
    one = (
        '[[action]]\nkey = "neck-flexion"\nname = "Neck flexion"\nregion = "arm"\nposition = "supine"\nlimb = "head"\n'
        'pad = "forehead"\npush = "up"\nsteady = "shoulders"\n'
    )
    assert load_actions(written(one))["neck-flexion"].method == "hand"
    with pytest.raises(ActionsError, match="the action neck-flexion is there twice"):
        load_actions(written(one + one, "twice.toml"))


def test_unknown_action_lists_those_there_are():
    with pytest.raises(ActionsError, match="no action nose-flexion; there are: shoulder-flexion, "):
        find_action("nose-flexion", load_actions())


@pytest.mark.parametrize(("name", "count"), [("all", 26), ("arm", 16), ("leg", 10)])
def test_batteries_without_a_file(name, count):
    assert len(load_battery(name, load_actions(), sides=("left", "right"))) == count


def test_battery_file_becomes_contexts(written):
    text = (
        '[[item]]\naction = "knee-extension"\nside = "left"\nlever_arm_m = 0.31\nresting_force_n = 6.5\n'
        '[[item]]\naction = "elbow-flexion"\n'
    )
    actions = load_actions()
    items = load_battery(written(text), actions, sides=())
    first, second = contexts(items, actions, examiner="X1", examiner_limit_n=200.0)
    assert (first.action, first.side, first.method, first.lever_arm_m) == ("knee-extension", "left", "belt", 0.31)
    assert (first.resting_force_n, second.resting_force_n) == (6.5, None)
    assert (second.side, second.method, second.examiner) == (None, "hand", "X1")


def test_battery_with_an_unknown_action_is_refused(written):
    with pytest.raises(ActionsError, match="there is no action toe-tap"):
        load_battery(written('[[item]]\naction = "toe-tap"\n'), load_actions(), sides=())


RULE = load_protocol().set


@pytest.mark.parametrize(
    ("plateaus", "tried", "complete"),
    [
        ([], 0, False),
        ([200.0, 198.0], 2, False),
        ([200.0, 198.0, 150.0], 3, True),
        ([200.0, 170.0, 160.0], 3, False),  # the best two differ by 15 %
        ([200.0, 170.0, 185.0], 4, True),
        ([200.0, 170.0, 160.0], 5, True),  # five are the most
        ([], 5, True),
    ],
)
def test_set_is_complete_when_the_best_two_agree_or_at_most_five(plateaus, tried, complete):
    assert set_state(plateaus, tried, RULE).complete is complete


def test_agreement_of_one_trial_is_not_known():
    assert agreement_pct([200.0]) is None
