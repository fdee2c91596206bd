"""Ratios within a joint, and which published ranges may stand beside them."""

import datetime as dt

import msgspec
import pytest
from made_trials import PROTOCOL, judged, made_trial

from acquire.values.records import Person
from analysis.errors import SettingsError
from analysis.results.action_result import Quantity, action_result
from analysis.results.missing import Missing
from analysis.results.ratios import Misfit, PublishedRatio, load_pairs, misfits, ratio
from analysis.results.settings import load_result_settings

SETTINGS = load_result_settings()
PAIRS = {pair.key: pair for pair in load_pairs()}
KNEE = PAIRS["knee"]
WOMAN = Person(sex="female", age_years=24.0)


def result(action, *forces, **made):
    trials = judged(*(made_trial(force, action=action, **made) for force in forces))
    return action_result(trials, person=WOMAN, day=dt.date(2026, 3, 2), rule=PROTOCOL.set, settings=SETTINGS)


FLEXION = result("knee-flexion", 100.0, 98.0, lever_arm_m=0.30)
EXTENSION = result("knee-extension", 200.0, 196.0, lever_arm_m=0.25)


def knee(upper=FLEXION, lower=EXTENSION, person=WOMAN):
    return ratio(KNEE, "right", upper, lower, person=person, settings=SETTINGS)


def test_ratio_of_torques_by_hand():
    found = knee()
    assert (found.quantity, found.value) == (Quantity.TORQUE, pytest.approx(30.0 / 50.0))
    assert (found.key, found.joint, found.side, found.missing) == ("knee", "knee", "right", ())
    repeat = [row.contribution for row in found.uncertainty.components if row.source == "repeatability"]
    assert repeat == pytest.approx([0.3 * 2**0.5 / 50.0, 0.6 * 0.25 * 8**0.5 / 50.0])
    assert {row.of for row in found.uncertainty.components} == {"knee-flexion", "knee-extension"}


def test_without_lever_arms_it_is_one_of_forces_and_says_so():
    found = knee(result("knee-flexion", 100.0, 98.0))
    assert (found.quantity, found.value, found.missing) == (Quantity.FORCE, pytest.approx(0.5), (Missing.LEVER_ARM,))
    assert all(Misfit.OTHER_QUANTITY in beside.misfits for beside in found.published)


@pytest.mark.parametrize(
    ("upper", "lower", "missing"),
    [
        (None, EXTENSION, (Missing.OTHER_ACTION,)),
        (FLEXION, None, (Missing.OTHER_ACTION,)),
        (result("knee-flexion", 100.0, ramp_s=0.2), EXTENSION, (Missing.ACCEPTED_TRIAL,)),
        (result("knee-flexion", 100.0, resting_force_n=101.0), EXTENSION, (Missing.FORCE,)),
    ],
)
def test_what_is_missing_is_named(upper, lower, missing):
    found = knee(upper, lower)
    assert (found.value, found.quantity, found.uncertainty, found.missing) == (None, None, None, missing)
    assert len(found.published) == len(KNEE.published), "what was published is said all the same"


def test_actions_that_were_held_differently_are_divided_and_named():
    found = knee(result("knee-flexion", 100.0, 98.0, method="hand", lever_arm_m=0.30))
    assert (found.value, found.missing) == (pytest.approx(0.6), (Missing.SAME_METHOD,))


def test_no_isokinetic_range_is_held_against_an_isometric_reading():
    for pair in PAIRS.values():
        for published in pair.published:
            for quantity in Quantity:
                found = misfits(published, quantity=quantity, person=WOMAN)
                assert (Misfit.ISOKINETIC in found) is (published.contraction == "isokinetic")


def test_where_only_isokinetic_ranges_are_known_none_fits():
    assert {published.contraction for published in PAIRS["elbow"].published} == {"isokinetic"}
    found = ratio(
        PAIRS["elbow"],
        "right",
        result("elbow-flexion", 100.0, 99.0, lever_arm_m=0.25),
        result("elbow-extension", 80.0, 79.0, lever_arm_m=0.25),
        person=Person(sex="male", age_years=24.0),
        settings=SETTINGS,
    )
    assert (found.value, found.fitting) == (pytest.approx(1.25), ())


FITS = PublishedRatio(
    low=0.4,
    high=0.8,
    statistic="mean +- SD",
    contraction="isometric",
    quantity="torque",
    posture="seated, hip and knee at 90 degrees",
    posture_is="as-tested",
    people="made for this test",
    source="none",
    status="verified",
    sex="female",
    age_low_years=20.0,
    age_high_years=24.0,
)


@pytest.mark.parametrize(
    ("change", "misfit"),
    [
        ({"contraction": "isokinetic"}, Misfit.ISOKINETIC),
        ({"contraction": "not-stated"}, Misfit.CONTRACTION_NOT_STATED),
        ({"quantity": "force"}, Misfit.OTHER_QUANTITY),
        ({"quantity": "not-stated"}, Misfit.OTHER_QUANTITY),
        ({"posture_is": "other"}, Misfit.OTHER_POSTURE),
        ({"posture_is": "not-known"}, Misfit.POSTURE_NOT_KNOWN),
        ({"sex": "male"}, Misfit.OTHER_SEX),
        ({"age_low_years": 25.0, "age_high_years": None}, Misfit.OTHER_AGE),
        ({"age_high_years": 22.0}, Misfit.OTHER_AGE),
        ({"statistic": "mean"}, Misfit.NO_PERSONS),
        ({"statistic": "pooled means"}, Misfit.NO_PERSONS),
    ],
)
def test_range_fits_when_all_of_it_does(change, misfit):
    assert misfits(FITS, quantity=Quantity.TORQUE, person=WOMAN) == ()
    changed = msgspec.structs.replace(FITS, **change)
    assert misfits(changed, quantity=Quantity.TORQUE, person=WOMAN) == (misfit,)


def test_range_that_fits_is_the_fitting_one():
    pair = msgspec.structs.replace(KNEE, published=(*KNEE.published, FITS))
    found = ratio(pair, "right", FLEXION, EXTENSION, person=WOMAN, settings=SETTINGS)
    assert found.fitting == (FITS,)


@pytest.mark.parametrize(("age", "fits"), [(19.9, False), (20.0, True), (24.9, True), (25.0, False), (None, False)])
def test_age_is_that_of_completed_years(age, fits):
    found = misfits(FITS, quantity=Quantity.TORQUE, person=Person(sex="female", age_years=age))
    assert found == (() if fits else (Misfit.OTHER_AGE,))


def test_person_of_unknown_sex_fits_only_what_holds_for_both():
    nobody = Person(age_years=24.0)
    assert misfits(FITS, quantity=Quantity.TORQUE, person=nobody) == (Misfit.OTHER_SEX,)
    assert misfits(msgspec.structs.replace(FITS, sex=None), quantity=Quantity.TORQUE, person=nobody) == ()


def test_published_numbers_are_those_that_were_read():
    ranges = {(key, p.source.split(",")[0]): (p.low, p.high) for key, pair in PAIRS.items() for p in pair.published}
    assert ranges["knee", "Coombs & Garbutt 2002"] == (0.6, 0.6)
    # Anderson 2007, table 3, young people: c1 of flexion over extension, women 0.080 / 0.159, men 0.087 / 0.163
    assert ranges["knee", "Anderson 2007"] == pytest.approx((0.080 / 0.159, 0.087 / 0.163), abs=5e-4)
    # Sarabon 2021, men, knee in mid-range: (1.15 to 1.62) / (2.92 to 3.45) N m/kg
    assert ranges["knee", "Sarabon 2021"] == pytest.approx((1.15 / 3.45, 1.62 / 2.92), abs=6e-3)
    surfers = [(p.low, p.high) for p in PAIRS["shoulder-rotation"].published if p.source.startswith("Furness")]
    assert surfers == [pytest.approx((0.88 - 0.14, 0.88 + 0.14)), pytest.approx((0.82 - 0.15, 0.82 + 0.15))]
    assert ranges["elbow", "Lategan & Krüger 2003"] == pytest.approx((1.19 - 0.198, 1.19 + 0.198))
    # Alvarenga 2019: 16.89 / 16.85 % of body weight
    assert ranges["hip-frontal", "Alvarenga 2019"] == pytest.approx((16.89 / 16.85,) * 2, abs=5e-3)


PAIR = '[[pair]]\nkey = "a"\njoint = "knee"\nnumerator = "x"\ndenominator = "y"\n'
RANGE = (
    '[[pair.published]]\nlow = 0.8\nhigh = 0.4\nstatistic = "range"\ncontraction = "isometric"\nquantity = "torque"\n'
    'posture = ""\nposture_is = "other"\npeople = ""\nsource = ""\nstatus = "verified"\n'
)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (PAIR + RANGE, r"mine\.toml: .*low must not be above high, got 0\.8 and 0\.4"),
        (PAIR + RANGE.replace("0.8", "0"), r"mine\.toml: .*pair.*expected `float` > 0\.0"),
        (PAIR + RANGE.replace('"isometric"', '"eccentric"'), r"mine\.toml: .*contraction: invalid enum value"),
        (PAIR.replace("joint", "limb"), r"mine\.toml: .*unknown field `limb`"),
    ],
)
def test_wrong_file_of_ratios_names_file_and_key(tmp_path, text, message):
    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(SettingsError, match=message):
        load_pairs(str(path))


def test_missing_file_of_ratios_lists_what_there_is():
    with pytest.raises(SettingsError, match=r"no file of ratios called nope .*comes with: joints"):
        load_pairs("nope")
