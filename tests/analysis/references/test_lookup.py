"""Which row fits, and the first reason why none does."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.values.records import Person
from analysis.battery.actions import load_actions
from analysis.references.lookup import Case, Match, Misfit, NoMatch, Remark, find_row
from analysis.references.tables import load_table, shipped_tables

MODEL = {
    "columns": "action,sex,age_from,age_to,c1,c2_per_rad,c3_rad\n",
    "replace": [("N m/kg", "N m"), ("mean", "torque model")],
}
ONE = "knee-extension,male,18,29,0.163,1.258,1.133\n"


def test_row_of_sex_and_age_fits(table, case):
    found = find_row(table(), case())
    assert isinstance(found, Match)
    assert (found.row.sex, found.remarks) == ("female", ())


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"action": "knee-flexion"}, Misfit.NO_SUCH_ACTION),
        ({"effort": "break"}, Misfit.MAKE_AND_BREAK),
        ({"sex": None}, Misfit.SEX_NOT_KNOWN),
        ({"age_years": None}, Misfit.AGE_NOT_KNOWN),
        ({"age_years": 17.99}, Misfit.OTHER_AGE),
        ({"age_years": 30.0}, Misfit.OTHER_AGE),
        ({"lever_arm_m": None}, Misfit.LEVER_ARM_NOT_KNOWN),
        ({"lever_arm_m": 0.0}, Misfit.LEVER_ARM_NOT_KNOWN),
        ({"mass_kg": None}, Misfit.MASS_NOT_KNOWN),
    ],
)
def test_reason_why_no_row_fits(table, case, changes, reason):
    found = find_row(table(), case(**changes))
    assert isinstance(found, NoMatch)
    assert found.reason is reason


@pytest.mark.parametrize("age", [18.0, 29.0, 29.99])
def test_age_is_in_completed_years(table, case, age):
    assert isinstance(find_row(table(), case(age_years=age)), Match)


def test_other_sex_has_no_row(table, case):
    only_men = table("knee-extension,male,18,29,any,25,3,0.6,,\n")
    assert find_row(only_men, case()).reason is Misfit.OTHER_SEX


def test_row_of_both_sexes_asks_for_none(table, case):
    both = table("knee-extension,both,18,29,any,25,3,0.6,,\n")
    assert isinstance(find_row(both, case(sex=None)), Match)


def test_row_without_an_end_fits_the_oldest(table, case):
    old = table("knee-extension,female,70,,any,25,3,0.6,,\n")
    assert isinstance(find_row(old, case(age_years=101.5)), Match)
    assert find_row(old, case(age_years=69.9)).reason is Misfit.OTHER_AGE


def test_break_test_is_never_held_against_a_make_test(table, case):
    of_breaks = table(replace=[("method: make", "method: break")])
    assert find_row(of_breaks, case()).reason is Misfit.MAKE_AND_BREAK
    assert isinstance(find_row(of_breaks, case(effort="break")), Match)


def test_table_of_another_position_does_not_fit(table, case):
    assert find_row(table(replace=[("seated", "supine")]), case()).reason is Misfit.OTHER_POSITION


SIDES = "knee-extension,both,18,29,{one},25,3,0.6,,\nknee-extension,both,18,29,{other},25,2,0.6,,\n"


@pytest.mark.parametrize(("side", "expected"), [("right", 3.0), ("left", 2.0)])
def test_dominant_side_has_its_row(table, case, side, expected):
    both = table(SIDES.format(one="dominant", other="nondominant"))
    assert find_row(both, case(side=side)).row.mean == expected
    left_handed = find_row(both, case(side=side, dominant_side="left"))
    assert left_handed.row.mean == 5.0 - expected


@pytest.mark.parametrize("missing", [{"side": None}, {"dominant_side": None}])
def test_side_that_is_not_known_has_no_row(table, case, missing):
    both = table(SIDES.format(one="dominant", other="nondominant"))
    assert find_row(both, case(**missing)).reason is Misfit.SIDE_NOT_KNOWN


def test_side_by_name_asks_for_no_dominance(table, case):
    both = table(SIDES.format(one="right", other="left"))
    assert find_row(both, case(dominant_side=None)).row.mean == 3.0
    only_left = table("knee-extension,both,18,29,left,25,3,0.6,,\n")
    assert find_row(only_left, case(dominant_side=None)).reason is Misfit.OTHER_SIDE
    assert find_row(only_left, case(side=None)).reason is Misfit.SIDE_NOT_KNOWN


def test_other_angle_of_the_joint_does_not_fit(table, case):
    knee = load_actions()["knee-extension"]
    tested = msgspec.structs.replace(knee.figure.tested, knee=60.0)
    bent = msgspec.structs.replace(knee, figure=msgspec.structs.replace(knee.figure, tested=tested))
    assert find_row(table(), case(bent)).reason is Misfit.OTHER_ANGLE


def test_angle_that_is_not_known_does_not_fit(table, case):
    neck = msgspec.structs.replace(load_actions()["knee-extension"], key="neck-flexion")
    rows = "neck-flexion,both,18,29,any,25,3,0.6,{angles}\n"
    assert find_row(table(rows.format(angles="0,30")), case(neck)).reason is Misfit.ANGLE_NOT_KNOWN
    assert isinstance(find_row(table(rows.format(angles=",")), case(neck)), Match)
    of_model = table(ONE.replace("knee-extension,male", "neck-flexion,both"), **MODEL)
    assert find_row(of_model, case(neck)).reason is Misfit.ANGLE_NOT_KNOWN


@pytest.mark.parametrize(
    ("missing", "reason"), [("mass_kg", Misfit.MASS_NOT_KNOWN), ("height_m", Misfit.HEIGHT_NOT_KNOWN)]
)
def test_torque_model_needs_the_size_of_the_body(table, case, missing, reason):
    of_model = table(ONE, **MODEL)
    assert isinstance(find_row(of_model, case(sex="male")), Match)
    assert find_row(of_model, case(sex="male", **{missing: None})).reason is reason
    assert find_row(of_model, case(sex="male", **{missing: 0.0})).reason is reason


@pytest.mark.parametrize(
    ("replace", "changes", "remarks"),
    [
        ([("method: make", "method: not stated")], {}, {Remark.METHOD_NOT_STATED}),
        ([("position: seated", "position: not stated")], {}, {Remark.POSITION_NOT_STATED}),
        ([], {"method": "hand"}, {Remark.OTHER_INSTRUMENT}),
        ([("instrument: belt", "instrument: hand-held")], {"method": "hand"}, set()),
        ([("instrument: belt", "instrument: several")], {}, {Remark.OTHER_INSTRUMENT}),
        ([("score: plateau", "score: not stated")], {}, {Remark.SCORE_NOT_STATED}),
        ([("score: plateau", "score: peak")], {}, set()),
        ([("score: plateau", "score: plateau\n# sd: derived")], {}, {Remark.DERIVED_SD}),
    ],
)
def test_what_to_bear_in_mind(table, case, replace, changes, remarks):
    assert set(find_row(table(replace=replace), case(**changes)).remarks) == remarks


class TestThoseThatComeAlong:
    """What the shipped tables have for the actions and persons of the program."""

    @pytest.mark.parametrize(
        ("action", "person", "fitting"),
        [
            ("knee-extension", {"age_years": 22}, {"anderson-2007", "sarabon-2021"}),
            ("knee-flexion", {"age_years": 60}, {"anderson-2007"}),
            ("knee-extension", {"age_years": 40}, {"sarabon-2021"}),
            ("knee-extension", {"age_years": 80}, {"anderson-2007"}),
            ("knee-extension", {"age_years": 12}, set()),
            ("hip-flexion", {"age_years": 22}, {"alvarenga-2019"}),
            ("hip-flexion", {"age_years": 22, "sex": "male"}, set()),
            ("hip-abduction", {"age_years": 29}, {"alvarenga-2019"}),
            ("hip-abduction", {"age_years": 30}, set()),
            ("ankle-dorsiflexion", {"age_years": 18, "sex": "male"}, {"anderson-2007"}),
            ("wrist-extension", {"age_years": 22}, set()),
        ],
    )
    def test_tables_that_fit(self, case, action, person, fitting):
        found = [find_row(table, case(action, **person)) for table in shipped_tables()]
        assert {one.table.name for one in found if isinstance(one, Match)} == fitting

    def test_hip_flexed_to_90_degrees_is_beyond_the_model(self, case):
        assert find_row(load_table("anderson-2007"), case("hip-flexion")).reason is Misfit.OTHER_ANGLE

    def test_ages_between_the_groups_of_the_model_have_none(self, case):
        for age in (26.0, 40.0, 54.9):
            assert find_row(load_table("anderson-2007"), case(age_years=age)).reason is Misfit.OTHER_AGE
        assert isinstance(find_row(load_table("anderson-2007"), case(age_years=25.9)), Match)

    def test_pooled_mean_at_angles_between_the_groups_has_none(self, case):
        assert find_row(load_table("sarabon-2021"), case(age_years=70.0)).reason is Misfit.OTHER_ANGLE
        assert find_row(load_table("sarabon-2021"), case(age_years=62.0)).reason is Misfit.OTHER_AGE


known = st.builds(
    Person,
    sex=st.sampled_from([None, "female", "male"]),
    age_years=st.none() | st.floats(0.0, 110.0),
    mass_kg=st.none() | st.floats(0.0, 200.0),
    height_m=st.none() | st.floats(0.0, 2.3),
)


@given(person=known, action=st.sampled_from(sorted(load_actions())), lever=st.none() | st.floats(0.0, 0.5))
def test_any_person_gets_a_row_or_a_reason(person, action, lever):
    of = Case(action=load_actions()[action], person=person, lever_arm_m=lever)
    found = [find_row(table, of) for table in shipped_tables()]
    assert len(found) == len(shipped_tables())
    for one in (one for one in found if isinstance(one, Match)):
        assert one.row.action == action
        assert one.row.sex in {"both", person.sex}
        assert one.row.age_from <= person.age_years
