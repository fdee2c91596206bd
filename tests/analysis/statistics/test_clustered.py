"""Groups of clusters, against every order there is, and a reference library."""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from analysis.statistics.clustered import Clusters, clustered_p, clusters_of, effective_number, intraclass, variances


@pytest.fixture
def chance():
    return np.random.default_rng(14)


def equal_clusters(off):
    off = np.asarray(off, dtype=float)
    return Clusters(off, np.ones(len(off)), np.ones(len(off)))


def exact_p(off, mine):
    """By every choice of clusters there is: twice the smaller tail."""
    sums = np.array([sum(off[i] for i in some) for some in itertools.combinations(range(len(off)), int(mine.sum()))])
    found = off[mine].sum()
    return min(1.0, 2.0 * min((sums >= found - 1e-9).mean(), (sums <= found + 1e-9).mean()))


@pytest.mark.parametrize("seed", range(12))
def test_p_is_about_that_of_every_order_there_is(seed):
    rng = np.random.default_rng(seed)
    off, mine = rng.normal(0.0, 1.0, 14), np.arange(14) < 5
    assert clustered_p(equal_clusters(off), mine, correlation=0.0) == pytest.approx(
        exact_p(off, mine), rel=0.1, abs=0.02
    )


def test_a_small_p_is_that_of_every_order_there_is():
    off, mine = np.array([3.0, 2.5, 2.0, 2.2, *np.linspace(-1.0, 1.0, 12)]), np.arange(16) < 4
    exact = exact_p(off, mine)
    assert exact == 2.0 / math.comb(16, 4)
    assert clustered_p(equal_clusters(off), mine, correlation=0.0) == pytest.approx(exact, rel=0.8)


def test_p_is_that_of_scipys_permutation_test(chance):
    off = np.concatenate([chance.gamma(1.0, 1.0, 9) + 0.7, chance.gamma(1.0, 1.0, 30)])
    mine = np.arange(39) < 9
    theirs = stats.permutation_test(
        (off[mine], off[~mine]),
        lambda x, y, axis: x.mean(axis) - y.mean(axis),
        n_resamples=20_000,
        vectorized=True,
        rng=1,
    ).pvalue
    assert clustered_p(equal_clusters(off), mine, correlation=0.0) == pytest.approx(theirs, rel=0.15, abs=0.006)


def test_what_happens_in_one_cluster_of_many_is_as_likely_as_the_group_is_large():
    off, mine = np.where(np.arange(54) == 0, 30.0, 0.0), np.arange(54) < 6
    assert clustered_p(equal_clusters(off - off.mean()), mine, correlation=0.0) >= 0.1


def test_clusters_of_other_sizes_are_brought_to_one_scale(chance):
    """Groups of small clusters among large ones alarm as often as said."""
    alarms = 0
    for _ in range(400):
        size = np.where(np.arange(60) < 12, 4, 36)
        total = chance.normal(0.0, np.sqrt(size))
        found = clustered_p(
            Clusters(total, size.astype(float), size.astype(float) ** 2), np.arange(60) < 12, correlation=0.0
        )
        alarms += found < 0.05
    assert 8 <= alarms <= 34  # 20 expected of 400


def test_fewer_than_three_clusters_say_nothing():
    off = np.arange(10.0)
    assert math.isnan(clustered_p(equal_clusters(off), np.arange(10) < 2, correlation=0.0))
    assert math.isnan(clustered_p(equal_clusters(off), np.arange(10) > 1, correlation=0.0))
    assert not math.isnan(clustered_p(equal_clusters(off), np.arange(10) < 3, correlation=0.0))
    assert math.isnan(clustered_p(equal_clusters(np.zeros(10)), np.arange(10) < 3, correlation=0.0))


def test_the_same_data_say_the_same():
    rng = np.random.default_rng(3)
    off, mine = rng.normal(0.0, 1.0, 60) + 1.2 * (np.arange(60) < 12), np.arange(60) < 12
    first, again = (clustered_p(equal_clusters(off), mine, correlation=0.0) for _ in range(2))
    assert first == again < 0.02


@pytest.mark.parametrize("wanted", [0.0, 0.1, 0.3])
def test_correlation_that_was_put_in_is_found(chance, wanted):
    own, rest = chance.normal(size=400), chance.normal(size=(400, 9))
    off = (math.sqrt(wanted) * own[:, None] + math.sqrt(1.0 - wanted) * rest).ravel()
    clusters = clusters_of(off, np.ones(3600), np.repeat(np.arange(400), 9))
    assert intraclass(clusters) == pytest.approx(wanted, abs=0.03)
    assert variances(clusters, wanted)[0] == pytest.approx(9.0 * (1.0 + 8.0 * wanted))


def test_effective_number_by_hand():
    # 20 clusters of 6, correlation 0.2: design effect 1 + 5 x 0.2 = 2; t of 119 and of 19 degrees of freedom
    clusters = clusters_of(np.zeros(120), np.full(120, 0.25), np.repeat(np.arange(20), 6))
    by_hand = 120.0 / 2.0 * (1.9801 / 2.0930) ** 2
    assert effective_number(120, clusters, 0.2) == pytest.approx(by_hand, rel=1e-3)
    assert effective_number(120, clusters_of(np.zeros(120), np.zeros(120), np.arange(120)), 0.2) == 120.0
