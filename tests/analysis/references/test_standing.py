"""How a reading stands to a reference: worked by hand, and what is withheld."""

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from acquire.values.records import Person
from analysis.battery.actions import load_actions
from analysis.references.lookup import Case, Match, find_row
from analysis.references.standing import IntervalPlace, WhyNoZ, percentile_of, standing
from analysis.references.tables import load_table


def test_reading_beside_a_mean_worked_by_hand(table, case):
    # 300 N x 0.35 m / 60 kg = 1.75 N m/kg; mean 2.5, SD 0.5, 25 persons: z = -1.5,
    # t = -1.5 x sqrt(25/26) = -1.470871 with 24 degrees of freedom
    found = standing(find_row(table(), case()), 300.0)
    assert found.value == pytest.approx(1.75)
    assert found.pct_of_mean == pytest.approx(70.0)
    assert found.z == pytest.approx(-1.5)
    assert found.percentile == pytest.approx(100.0 * stats.t.cdf(-1.470871, 24), abs=1e-4)
    assert (found.mean, found.sd, found.why_no_z, found.place) == (2.5, 0.5, None, None)


@pytest.mark.parametrize(
    ("replace", "why"),
    [
        ([("score: plateau", "sd: derived")], WhyNoZ.DERIVED_SD),
        ([("method: make", "method: not stated")], WhyNoZ.METHOD_NOT_STATED),
        ([("position: seated", "position: not stated")], WhyNoZ.POSITION_NOT_STATED),
    ],
)
def test_z_is_withheld_where_the_table_does_not_support_it(table, case, replace, why):
    found = standing(find_row(table(replace=replace), case()), 300.0)
    assert (found.z, found.percentile, found.why_no_z) == (None, None, why)
    assert (found.sd, found.pct_of_mean) == (0.5, pytest.approx(70.0))


def test_mean_without_a_deviation_gives_its_share_only(table, case):
    found = standing(find_row(table("knee-extension,both,18,29,any,,2.5,,,\n"), case()), 300.0)
    assert (found.z, found.percentile, found.sd, found.why_no_z) == (None, None, None, WhyNoZ.NO_SD)
    assert found.pct_of_mean == pytest.approx(70.0)


def test_hip_of_a_young_woman(case):
    # 60 kg weigh 588.399 N; 100 N are 16.995 % of that; the mean is 16.85 %
    found = standing(find_row(load_table("alvarenga-2019"), case("hip-abduction")), 100.0)
    assert found.value == pytest.approx(16.995, abs=5e-4)
    assert found.pct_of_mean == pytest.approx(100.86, abs=0.005)
    assert (found.mean_low, found.mean_high, found.sd) == (16.03, 17.66, None)
    assert (found.z, found.percentile, found.why_no_z) == (None, None, WhyNoZ.NO_SD)


def test_knee_of_a_young_man_beside_the_torque_model(case):
    # 179.9 N m for 75 kg and 1.76 m at 90 degrees; the spread is that of c1: 0.040 / 0.163 of it
    man = case(sex="male", age_years=20.0, mass_kg=75.0, height_m=1.76, lever_arm_m=0.4)
    found = standing(find_row(load_table("anderson-2007"), man), 400.0)
    assert found.value == pytest.approx(160.0)
    assert found.mean == pytest.approx(179.9, abs=0.05)
    assert found.sd == pytest.approx(179.86 * 0.040 / 0.163, abs=0.02)
    assert found.pct_of_mean == pytest.approx(88.96, abs=0.01)
    assert (found.z, found.percentile, found.why_no_z) == (None, None, WhyNoZ.SPREAD_OF_PEAK)


def test_above_65_years_the_torque_model_has_no_spread(case):
    found = standing(find_row(load_table("anderson-2007"), case(age_years=70.0)), 200.0)
    assert (found.sd, found.why_no_z) == (None, WhyNoZ.NO_SD)
    assert found.mean > 0.0


@pytest.mark.parametrize(
    ("value", "place"),
    [
        (2.03, IntervalPlace.BELOW),
        (2.04, IntervalPlace.INSIDE),
        (2.5, IntervalPlace.INSIDE),
        (2.71, IntervalPlace.INSIDE),
        (2.72, IntervalPlace.ABOVE),
    ],
)
def test_reading_beside_the_interval_of_a_pooled_mean(case, value, place):
    # women, flexed knee: 2.04-2.71 N m/kg; 50 kg and 0.5 m: 100 N a N m/kg
    of_table = find_row(load_table("sarabon-2021"), case(mass_kg=50.0, lever_arm_m=0.5))
    found = standing(of_table, 100.0 * value)
    assert found.place is place
    assert (found.mean_low, found.mean_high) == (2.04, 2.71)
    assert (found.mean, found.z, found.percentile, found.why_no_z) == (None, None, None, WhyNoZ.POOLED_MEAN)


@pytest.mark.parametrize("force", [0.0, -1.0, math.nan, math.inf])
def test_force_that_cannot_be_is_refused(table, case, force):
    with pytest.raises(ValueError, match=f"force_n must be positive, got {force} N"):
        standing(find_row(table(), case()), force)


def test_match_made_by_hand_without_the_size_is_refused(case):
    whole = case(sex="male", age_years=20.0)
    found = find_row(load_table("anderson-2007"), whole)
    small = Case(action=whole.action, person=msgspec.structs.replace(whole.person, height_m=None), lever_arm_m=0.3)
    with pytest.raises(ValueError, match="a torque model needs mass, height and angle"):
        standing(Match(table=found.table, row=found.row, case=small), 100.0)


@pytest.mark.parametrize("z", [-3.0, -1.0, 0.0, 0.5, 2.0])
def test_percentile_of_many_is_that_of_the_normal_distribution(z):
    assert percentile_of(z, 1_000_000) == pytest.approx(100.0 * stats.norm.cdf(z), abs=1e-3)


def test_percentile_of_few_is_nearer_the_middle():
    assert percentile_of(-2.0, 5) > percentile_of(-2.0, 20) > percentile_of(-2.0, 200) > 2.27


def test_percentile_is_that_of_a_new_person_from_the_same_population():
    # the definition, tried out: samples of 8, and one more person each
    chance = stats.norm.rvs(size=(200_000, 9), random_state=1)
    sample, person = chance[:, :8], chance[:, 8]
    z = (person - sample.mean(axis=1)) / sample.std(axis=1, ddof=1)
    assert 100.0 * (z < -1.5).mean() == pytest.approx(percentile_of(-1.5, 8), abs=0.25)


@given(factor=st.floats(0.2, 3.0))
def test_stronger_person_of_the_same_size_stands_higher(factor):
    man = Person(sex="male", age_years=20.0, mass_kg=75.0, height_m=1.76)
    found = find_row(
        load_table("anderson-2007"), Case(action=load_actions()["knee-extension"], person=man, lever_arm_m=0.4)
    )
    assert standing(found, 400.0 * factor).pct_of_mean == pytest.approx(factor * standing(found, 400.0).pct_of_mean)
