"""The whole analysis of a trial (6 s at 1 kHz, all measures and faults) against one zero-phase Butterworth pass.

The goal is at most 3.5 times `scipy.signal.sosfiltfilt` of 4th order over the same trace.
"""

from functools import partial

from ratios import ratio, seconds
from scipy.signal import butter, sosfiltfilt

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

SAMPLES = 6000
GOAL = 3.5


def main():
    protocol = load_protocol()
    sections = butter(4, 50.0, fs=1000.0, output="sos")
    print(f"{'trace':<18}{'judge ms':>10}{'filter ms':>11}{'ratio':>8}   (goal {GOAL:g})")
    for name, effort in {"good": GOOD, **{code: FAULTY[code] for code in ("gave-way", "examiner-pushed")}}.items():
        whole = simulate(effort, rate_hz=1000.0, seed=1).trace
        # 6 s from a second before the onset: the release is cut off in the longest
        trace = Trace(time=whole.time[1200 : 1200 + SAMPLES], force=whole.force[1200 : 1200 + SAMPLES])
        judged, filtered = partial(judge, trace, protocol), partial(sosfiltfilt, sections, trace.force)
        found = ratio(judged, filtered, repeats=200)
        print(f"{name:<18}{1e3 * seconds(judged):>10.2f}{1e3 * seconds(filtered):>11.2f}{found:>8.2f}")


if __name__ == "__main__":
    main()
