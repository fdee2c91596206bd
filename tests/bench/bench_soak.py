"""Eight hours of a 1 kHz stream as fast as the machine allows, through link, decoder, time base, detector and judge.

Run as ``python tests/bench/bench_soak.py [HOURS]``. Prints the memory of the process each hour of the stream: it must
not grow. An effort a minute is played, and as many must be found and accepted.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "fakes"))

from long_stream import PROFILE, long_stream, resident_mb

from acquire.links.replay import ReplayLink
from acquire.stream.pipeline import Pipeline
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge


def main():
    hours = float(sys.argv[1]) if sys.argv[1:] else 8.0
    protocol, pipeline = load_protocol(), Pipeline(PROFILE, PROFILE.nominal_calibration())
    link = ReplayLink(long_stream(3600.0 * hours), speed=1e12)
    began, told, found, accepted = time.perf_counter(), 0, 0, 0
    print(f"{'hour':>6}{'MB':>9}{'efforts':>9}{'accepted':>10}{'lost':>6}{'x life':>8}")
    while not link.finished:
        link.wait(0.0)
        for chunk in link.chunks():
            for trial in pipeline.feed(*chunk):
                found += 1
                accepted += judge(trial.trace(), protocol).verdict == "accepted"
            if chunk.arrival >= 3600.0 * told:
                speed = chunk.arrival / (time.perf_counter() - began)
                lost = pipeline.timebase.lost
                print(f"{told:>6}{resident_mb():>9.1f}{found:>9}{accepted:>10}{lost:>6}{speed:>8.0f}", flush=True)
                told += 1
    print(f"{hours:g} hours in {time.perf_counter() - began:.0f} s: {found} efforts, {accepted} accepted")


if __name__ == "__main__":
    main()
