# a script: its table is what it is for
"""How often an audit names somebody in archives in which no examiner differs, though the trials of a session are alike.

Run as ``python tests/bench/bench_audit_size.py [ARCHIVES]`` (default 100). Archives are drawn as columns by
`equal_archives`: sessions of 24 trials of eight actions, six rules and all numbers of the technique. At most 5 of 100
may have a finding at each correlation.
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "fakes"))

from equal_archives import equal_archive

from analysis.audit.examiners import audit_examiners

DESIGNS = ((5, 6), (9, 12), (15, 6), (5, 60), (15, 60))
CORRELATIONS = (0.0, 0.1, 0.2, 0.3)


def named(examiners, sessions, correlation, seed):
    """Return whether any examiner has a finding in one archive."""
    table = equal_archive(
        np.random.default_rng(seed), examiners=examiners, sessions=sessions, actions=8, correlation=correlation
    )
    audits = audit_examiners(table, rest_least_s=60.0)
    return any(each.finding for audit in audits for each in (*audit.shares.values(), *audit.numbers.values()))


def main():
    archives = int(sys.argv[1]) if sys.argv[1:] else 100
    print(f"archives of {archives} with a finding, by the correlation within sessions")
    print(f"{'examiners':>9}{'sessions':>9}" + "".join(f"{each:>7}" for each in CORRELATIONS))
    with ProcessPoolExecutor() as pool:
        for examiners, sessions in DESIGNS:
            found = [
                sum(
                    pool.map(named, *zip(*[(examiners, sessions, each, seed) for seed in range(archives)], strict=True))
                )
                for each in CORRELATIONS
            ]
            print(f"{examiners:>9}{sessions:>9}" + "".join(f"{each:>7}" for each in found), flush=True)


if __name__ == "__main__":
    main()
