"""Quantiles against printed tables and against `scipy.stats`."""

import pytest
from scipy import stats

from analysis.statistics.distributions import (
    check_confidence,
    chi_squared_quantile,
    f_quantile,
    noncentral_t_quantile,
    normal_two_sided,
    t_quantile,
    t_share_below,
)

SHARES = (0.005, 0.025, 0.5, 0.9, 0.975)
FREEDOMS = (1, 2.5, 9, 16, 120)


# Pearson and Hartley, Biometrika Tables for Statisticians 1, tables 12, 18 and 8 (from memory; any handbook has them)
@pytest.mark.parametrize(
    ("found", "printed"),
    [
        (t_quantile(0.975, 1), 12.706),
        (t_quantile(0.975, 10), 2.228),
        (f_quantile(0.95, 3, 10), 3.708),
        (f_quantile(0.975, 5, 15), 3.576),
        (chi_squared_quantile(0.95, 10), 18.307),
        (normal_two_sided(0.99), 2.576),
    ],
)
def test_quantile_is_that_of_printed_tables(found, printed):
    assert found == pytest.approx(printed, abs=5e-4)


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("df", FREEDOMS)
def test_quantiles_are_those_of_scipy_stats(share, df):
    assert t_quantile(share, df) == pytest.approx(stats.t.ppf(share, df), rel=1e-9, abs=1e-12)
    assert f_quantile(share, df, 7) == pytest.approx(stats.f.ppf(share, df, 7), rel=1e-9)
    assert chi_squared_quantile(share, df) == pytest.approx(stats.chi2.ppf(share, df), rel=1e-9)
    assert t_share_below(-1.3, df) == pytest.approx(stats.t.cdf(-1.3, df), rel=1e-12)


@pytest.mark.parametrize(("df", "noncentrality"), [(2, 3.4), (16, 8.1), (29, 10.7), (199, 27.7)])
def test_noncentral_quantile_has_its_share_below(df, noncentrality):
    for share in (0.025, 0.975):
        value = noncentral_t_quantile(share, df, noncentrality)
        assert stats.nct.cdf(value, df, noncentrality) == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize("confidence", [0.0, 1.0, 95, -0.1])
def test_confidence_that_is_no_share_is_refused(confidence):
    with pytest.raises(ValueError, match=f"between 0 and 1, got {confidence}"):
        check_confidence(confidence)
