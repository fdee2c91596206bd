"""An audit against a bare read of the same traces with the analysis alone, and a second audit against the first.

Run as ``python tests/bench/bench_audit.py [SESSIONS]`` (default 200; 10,000 is a year of many sites, 27 GB, and takes
twenty minutes). Sessions of 20 trials of some ten seconds at 1 kHz, invented. Goals: the first audit within 3
times the bare read and analysis in as many processes, the second at least 50 times faster than the first, memory that
does not grow with the archive.
"""

import resource
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

import h5py

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.storage.session_file import read_index
from acquire.storage.walk import session_paths
from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.model.audit.work import STORE, audit_archive
from ui.model.audit.workers import Processes

EXAMINERS = 10
PROCESSES = 2


def bare(path):
    """Read the samples of a file through h5py and judge them, and nothing else."""
    protocol, calibration = load_protocol(), read_index(path).trials[0].calibration
    with h5py.File(path) as file:
        for group in file["trials"].values():
            time_s, counts = group["time_s"][:], group["counts"][:]
            judge(Trace.from_samples(time_s - time_s[0], calibration.force(counts)), protocol)


def batch(paths):
    """Do it for some files."""
    for path in paths:
        bare(path)
    return len(paths)


def timed(work):
    began = time.perf_counter()
    result = work()
    return time.perf_counter() - began, result


def main():
    sessions = int(sys.argv[1]) if sys.argv[1:] else 200
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        plan = ArchivePlan(
            examiners=tuple(Examiner(code=f"EX-{n}") for n in range(EXAMINERS)),
            sessions_each=sessions // EXAMINERS,
            trials_each=20,
            rate_hz=1000.0,
            persons=400,
        )
        made, count = timed(partial(write_archive, root, plan))
        size = sum(path.stat().st_size for path in session_paths(root))
        print(f"{count} sessions, {size / 1e6:.0f} MB, made in {made:.0f} s")
        paths = list(session_paths(root))
        batches = [paths[at : at + 8] for at in range(0, len(paths), 8)]
        alone, _ = timed(lambda: list(Processes(PROCESSES)(batch, batches)))
        protocol = load_protocol()
        audit = partial(audit_archive, root, protocol, mapper=Processes(PROCESSES))
        first, _ = timed(audit)
        second, _ = timed(audit)
        kept = (root / STORE).stat().st_size
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{'bare read and analysis':<26}{alone:>9.2f} s")
        print(f"{'first audit':<26}{first:>9.2f} s{first / alone:>9.2f} times")
        print(f"{'second audit':<26}{second:>9.2f} s{first / second:>9.0f} times faster")
        print(f"{'kept results':<26}{kept / 1e6:>9.1f} MB")
        print(f"{'most memory of this process':<26}{most:>7.0f} MB")


if __name__ == "__main__":
    main()
