"""The six intraclass correlations: published data, another library, limits tried out, and what does not change them."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.statistics.icc import intraclass_correlations

FORMS = ("ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)")
# Shrout and Fleiss 1979, Psychol Bull 86:420-428, Table 2
SHROUT_FLEISS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
# Weir 2005, J Strength Cond Res 19:231-240, data set A
WEIR_A = [(146, 140), (148, 152), (170, 152), (90, 99), (157, 145), (156, 153), (176, 167), (205, 218)]


def drawn(n, k, *, between=1.0, of_ratings=0.0, error=1.0, seed=0):
    """Subjects by ratings of a two-way model with known variances."""
    chance = np.random.default_rng(seed)
    subjects = np.sqrt(between) * chance.standard_normal((n, 1))
    shifts = np.sqrt(of_ratings) * chance.standard_normal((1, k))
    return 10.0 + subjects + shifts + np.sqrt(error) * chance.standard_normal((n, k))


def test_shrout_and_fleiss():
    # table 4 prints .17 .29 .71 .44 .62 .91 (from memory); the digits are recomputed from table 2
    found = intraclass_correlations(SHROUT_FLEISS)
    assert tuple(found) == FORMS
    expected = [0.1657418, 0.2897638, 0.7148407, 0.4427971, 0.6200505, 0.9093155]
    assert [icc.value for icc in found.values()] == pytest.approx(expected, abs=5e-8)
    limits = {"ICC(1,1)": (-0.1329, 0.7226), "ICC(2,1)": (0.0188, 0.7611), "ICC(3,1)": (0.3425, 0.9459)}
    for form, expected_limits in limits.items():
        assert (found[form].low, found[form].high) == pytest.approx(expected_limits, abs=5e-5)


def test_weir_data_set_a():
    found = [icc.value for icc in intraclass_correlations(WEIR_A).values()]
    assert found == pytest.approx([0.95005, 0.94998, 0.94702, 0.97439, 0.97435, 0.97279], abs=5e-6)


@pytest.fixture(scope="module")
def other_library():
    """The six values and limits of `pingouin.intraclass_corr`, in its order, which is ours."""
    import pandas  # noqa: PLC0415, ICN001 (slow, and here alone)
    import pingouin  # noqa: PLC0415

    def of(values):
        rows = [(i, j, value) for (i, j), value in np.ndenumerate(np.asarray(values, dtype=np.float64))]
        table = pandas.DataFrame(rows, columns=["subject", "rating", "value"])
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its calls of pandas are deprecated
            found = pingouin.intraclass_corr(table, targets="subject", raters="rating", ratings="value")
        limits = found[next(name for name in found if name.startswith("CI95"))]
        return found["ICC"].to_numpy(), np.array(limits.tolist())

    rounded = pingouin.options["round.column.CI95"]
    pingouin.options["round.column.CI95"] = None
    yield of
    pingouin.options["round.column.CI95"] = rounded


@pytest.mark.parametrize(
    "values",
    [
        SHROUT_FLEISS,
        WEIR_A,
        drawn(12, 2, seed=1),
        drawn(30, 3, of_ratings=2.0, seed=2),
        drawn(9, 5, between=0.01, seed=3),
        drawn(200, 2, between=9.0, error=0.1, seed=4),
    ],
    ids=["Shrout and Fleiss", "Weir", "12 by 2", "30 by 3", "hardly different", "200 by 2"],
)
def test_values_and_limits_are_those_of_pingouin(other_library, values):
    # pingouin 0.7.0, intraclass_corr
    found = intraclass_correlations(values).values()
    shares, limits = other_library(values)
    assert [icc.value for icc in found] == pytest.approx(shares, rel=1e-9, abs=1e-12)
    assert np.array([(icc.low, icc.high) for icc in found]) == pytest.approx(limits, abs=1e-6)


changes = st.tuples(st.floats(-500.0, 500.0), st.floats(0.01, 100.0))


@given(changes, st.permutations(range(4)), st.permutations(range(6)))
def test_unit_zero_and_order_do_not_matter(change, judges, targets):
    shift, scale = change
    values = np.array(SHROUT_FLEISS, dtype=np.float64)
    other = scale * values[np.ix_(targets, judges)] + shift
    expected = intraclass_correlations(values)
    for form, icc in intraclass_correlations(other).items():
        assert (icc.value, icc.low, icc.high) == pytest.approx(
            (expected[form].value, expected[form].low, expected[form].high), abs=1e-6
        )


def test_shift_of_one_judge_leaves_consistency_and_lowers_agreement():
    values = np.array(WEIR_A, dtype=np.float64)
    shifted = values + np.array([0.0, 20.0])
    before, after = intraclass_correlations(values), intraclass_correlations(shifted)
    assert after["ICC(3,1)"].value == pytest.approx(before["ICC(3,1)"].value)
    assert after["ICC(2,1)"].value < before["ICC(2,1)"].value - 0.05
    assert after["ICC(1,1)"].value < before["ICC(1,1)"].value - 0.05


def test_limits_widen_with_confidence_and_hold_the_value():
    for form in FORMS:
        at_90, at_99 = (intraclass_correlations(SHROUT_FLEISS, confidence=share)[form] for share in (0.90, 0.99))
        assert at_99.low < at_90.low < at_90.value < at_90.high < at_99.high


@pytest.mark.parametrize("form", ["ICC(1,1)", "ICC(2,1)", "ICC(3,1)"])
def test_limits_hold_the_truth_as_often_as_they_say(form):
    # variances 2 between subjects, 0.5 between ratings (not for the others), 1 of error
    of_ratings = 0.5 if form == "ICC(2,1)" else 0.0
    truth = 2.0 / (2.0 + of_ratings + 1.0)
    studies = (drawn(20, 4, between=2.0, of_ratings=of_ratings, seed=seed) for seed in range(600))
    held = [icc.low <= truth <= icc.high for icc in (intraclass_correlations(study)[form] for study in studies)]
    assert np.mean(held) == pytest.approx(0.95, abs=0.03)


def test_perfect_agreement_is_one_throughout():
    for icc in intraclass_correlations([[1.0, 1.0], [2.0, 2.0], [4.0, 4.0]]).values():
        assert (icc.value, icc.low, icc.high) == pytest.approx((1.0, 1.0, 1.0))


def test_judges_a_constant_apart_are_perfectly_consistent():
    found = intraclass_correlations([[1.0, 3.0], [2.0, 4.0], [4.0, 6.0]])
    assert (found["ICC(3,1)"].value, found["ICC(3,1)"].low) == pytest.approx((1.0, 1.0))
    assert found["ICC(2,1)"].value < 0.6
    assert 0.0 <= found["ICC(2,1)"].low < found["ICC(2,1)"].value < found["ICC(2,1)"].high <= 1.0


@pytest.mark.parametrize(
    "values",
    [[[1.0, 5.0], [5.0, 1.1], [1.2, 5.0]], drawn(5, 3, between=0.0, seed=11), drawn(2, 2, between=0.0, seed=3)],
)
def test_subjects_that_differ_less_than_chance_are_negative_with_limits_around(values):
    found = intraclass_correlations(values)
    for icc in found.values():
        assert icc.low <= icc.value <= icc.high, icc
    assert found["ICC(1,1)"].value < 0.0
    assert found["ICC(1,k)"].value < found["ICC(1,1)"].value


def test_mean_of_judges_who_contradict_each_other_has_no_lower_limit():
    assert intraclass_correlations([[1.0, 5.0], [5.0, 1.1], [1.2, 5.0]])["ICC(2,k)"].low == -np.inf


@pytest.mark.parametrize("values", [[[1.0, 3.0], [2.0, 2.0]], [[5.0, 5.0], [5.0, 5.0]]])
def test_subjects_that_are_all_the_same_are_refused(values):
    with pytest.raises(ValueError, match="ratings must differ between subjects"):
        intraclass_correlations(values)


def test_missing_rating_is_refused():
    with pytest.raises(ValueError, match="ratings must be complete, got nan for subject 1, rating 2"):
        intraclass_correlations([[1.0, np.nan], [2.0, 3.0]])


def test_confidence_in_per_cent_is_refused():
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1, got 95"):
        intraclass_correlations(WEIR_A, confidence=95)


def test_limits_are_of_95_per_cent_when_nothing_else_is_asked_for():
    ratings = np.random.default_rng(1).normal(0.0, 1.0, (9, 1)) + np.random.default_rng(2).normal(0.0, 0.5, (9, 3))
    assert intraclass_correlations(ratings) == intraclass_correlations(ratings, confidence=0.95)
    assert intraclass_correlations(ratings) != intraclass_correlations(ratings, confidence=0.9)
