"""Where no examiner differs, nobody is named, however alike the trials of a session are."""

import numpy as np
import pytest
from equal_archives import equal_archive

from analysis.audit.compare import compare_share, share_totals
from analysis.audit.examiners import audit_examiners


def named(audits):
    """Return who is said to differ, and in what."""
    shares = [(a.code, name) for a in audits for name, share in a.shares.items() if share.finding]
    return shares + [(a.code, name) for a in audits for name, number in a.numbers.items() if number.finding]


@pytest.mark.parametrize("correlation", [0.0, 0.2, 0.3])
def test_nobody_is_named_where_nobody_differs(correlation):
    """Of 4 archives at most one at each correlation; before, all of them where sessions were correlated by 0.2."""
    archives = [
        audit_examiners(
            equal_archive(np.random.default_rng(seed), actions=6, correlation=correlation), rest_least_s=60.0
        )
        for seed in range(4)
    ]
    assert sum(bool(named(audits)) for audits in archives) <= 1


def test_a_person_who_comes_again_is_one_cluster():
    table = equal_archive(np.random.default_rng(1), examiners=5, sessions=24, actions=6, correlation=0.6, retested=8)
    assert len(np.unique(table.clusters())) == 5 * 3
    assert named(audit_examiners(table, rest_least_s=60.0)) == []


def test_intervals_of_shares_hold_the_truth():
    """95 % of 300 within 4 points; the truth is the share of all archives together."""
    found = []
    for seed in range(60):
        table = equal_archive(np.random.default_rng(seed), examiners=5, sessions=10, actions=4, correlation=0.2)
        totals = share_totals(table.rejected, table.strata(), table.clusters())
        for code in table.examiner.words:
            mine = table.examiner.where(code)
            found.append(compare_share(mine, table.rejected, table.strata(), totals))
    truth = np.mean([each.share for each in found])
    held = np.mean([each.interval[0] <= truth <= each.interval[1] for each in found])
    assert 0.91 <= held <= 0.99
