"""The analysis of variance behind every correlation: published tables, another library, and data that is not whole."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import stats

from analysis.statistics.ratings import checked_ratings, mean_squares, subjects_differ

# Shrout and Fleiss 1979, Psychol Bull 86:420-428, Table 2: 6 targets, 4 judges
SHROUT_FLEISS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
# Weir 2005, J Strength Cond Res 19:231-240, data set A: 8 subjects, 2 trials
WEIR_A = [(146, 140), (148, 152), (170, 152), (90, 99), (157, 145), (156, 153), (176, 167), (205, 218)]
# Bland and Altman 1986, Lancet i:307-310: two readings each of one flow meter and of another
WRIGHT = [
    (494, 490), (395, 397), (516, 512), (434, 401), (476, 470), (557, 611), (413, 415), (442, 431), (650, 638),
    (433, 429), (417, 420), (656, 633), (267, 275), (478, 492), (178, 165), (423, 372), (427, 421),
]  # fmt: skip
MINI = [
    (512, 525), (430, 415), (520, 508), (428, 444), (500, 500), (600, 625), (364, 460), (380, 390), (658, 642),
    (445, 432), (432, 420), (626, 605), (260, 227), (477, 467), (259, 268), (350, 370), (451, 443),
]  # fmt: skip


def test_mean_squares_of_shrout_and_fleiss():
    # table 3 prints 11.24, 6.26, 32.49 and 1.02 (from memory); the digits are recomputed from table 2
    found = mean_squares(SHROUT_FLEISS)
    assert (found.n, found.k, found.error_df) == (6, 4, 15)
    assert found.between == pytest.approx(11.2416667, abs=5e-8)
    assert found.within == pytest.approx(6.2638889, abs=5e-8)
    assert found.ratings == pytest.approx(32.4861111, abs=5e-8)
    assert found.error == pytest.approx(1.0194444, abs=5e-8)


def test_mean_squares_of_weir():
    found = mean_squares(WEIR_A)
    assert found.between == pytest.approx(2098.5357, abs=5e-5)
    assert found.within == pytest.approx(53.75, abs=1e-9)
    assert found.ratings == pytest.approx(30.25, abs=1e-9)
    assert found.error == pytest.approx(57.1071, abs=5e-5)
    assert found.ratings / found.error == pytest.approx(0.530, abs=5e-4)


@pytest.mark.parametrize(("readings", "deviation"), [(WRIGHT, 15.3067), (MINI, 19.9108)])
def test_within_subject_deviation_of_bland_and_altman(readings, deviation):
    # twice and a half it, 2 sqrt(2) s, are the repeatabilities 43.2 and 56.4 that the paper prints (from memory)
    assert np.sqrt(mean_squares(readings).within) == pytest.approx(deviation, abs=5e-5)


ratings = arrays(
    np.float64,
    st.tuples(st.integers(2, 8), st.integers(2, 5)),
    elements=st.floats(-1000.0, 1000.0, allow_nan=False, width=32),
)


@given(ratings)
def test_sums_of_squares_add_up(values):
    found = mean_squares(values)
    n, k = found.n, found.k
    whole = float(((values - values.mean()) ** 2).sum())
    parts = found.between * (n - 1) + found.ratings * (k - 1) + found.error * found.error_df
    assert parts == pytest.approx(whole, rel=1e-9, abs=1e-6)
    assert found.within * n * (k - 1) == pytest.approx(
        found.ratings * (k - 1) + found.error * found.error_df, rel=1e-9, abs=1e-6
    )


def test_subjects_over_within_is_the_f_of_scipy():
    found = mean_squares(SHROUT_FLEISS)
    assert found.between / found.within == pytest.approx(stats.f_oneway(*SHROUT_FLEISS).statistic)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ([[1.0, 2.0], [3.0, np.nan]], "got nan for subject 2, rating 2: leave the subject out"),
        ([[1.0, np.inf], [3.0, 4.0]], "got inf for subject 1, rating 2"),
        ([[1.0, 2.0], [3.0]], "ratings must be numbers, the same number of them for each subject"),
        ([["a", "b"], ["c", "d"]], "ratings must be numbers"),
        ([[1.0, 2.0]], r"at least 2 subjects by 2 ratings, got the shape \(1, 2\)"),
        ([[1.0], [2.0]], r"at least 2 subjects by 2 ratings, got the shape \(2, 1\)"),
        ([1.0, 2.0], r"got the shape \(2,\)"),
        ([], r"got the shape \(0,\)"),
    ],
)
def test_ratings_that_are_not_whole_are_refused(values, message):
    with pytest.raises(ValueError, match=message):
        checked_ratings(values)


def test_what_is_given_stays_as_it_was():
    values = np.array(WEIR_A, dtype=np.float64)
    mean_squares(values)
    assert values.tolist() == [list(map(float, row)) for row in WEIR_A]


@pytest.mark.parametrize(
    ("values", "differ"),
    [
        ([[1.0, 3.0], [2.0, 2.0]], False),
        ([[0.1 + 0.2, 0.1], [0.3, 0.1]], False),
        ([[1.0, 3.0], [2.0, 2.5]], True),
        ([[0.0, 0.0], [0.0, 0.0]], False),
    ],
)
def test_subjects_that_differ_by_rounding_only_do_not(values, differ):
    assert subjects_differ(np.array(values), mean_squares(values)) is differ
