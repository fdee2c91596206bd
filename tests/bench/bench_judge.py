"""How the judge does on efforts that its own simulation did not draw: false rejections, plateau, faults found.

    python tests/bench/bench_judge.py [--verbose] [--good] [SEED]

`--good` leaves out the faults; another SEED (0 by default) draws other good efforts.

Mild good efforts: six ramp shapes x five rates x six forces x three; messy ones two thirds of that. Each fault is drawn
just below its reject limit, just above, and well above it; what is counted is how often that fault rejects.
"""

import dataclasses
import sys
from collections import Counter
from itertools import product
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from acquire.stream.trial_detector import detect_efforts
from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from tests.fakes.drawn import SHAPES, Person, draw, messy, mild, several

RATES = (80.0, 200.0, 500.0, 1000.0, 2000.0)
FORCES = (15.0, 40.0, 100.0, 250.0, 500.0, 800.0)
PROTOCOL = load_protocol()
VERBOSE = "--verbose" in sys.argv
SEED = next((int(word) for word in sys.argv[1:] if word.isdigit()), 0)


def judged(drawing):
    return judge(Trace(time=drawing.time, force=drawing.force), PROTOCOL)


def good(kind, times):
    wrong, warned, off = [], Counter(), []
    total = 0
    for shape, rate, force in product(SHAPES, RATES, FORCES):
        for again in range(times):
            drawn = (SEED, again, round(rate), round(force), list(SHAPES).index(shape))
            seed = int(np.random.SeedSequence(drawn).generate_state(1)[0])
            person = kind(np.random.default_rng(seed), shape, force)
            drawing = draw(person, rate, seed)
            found = judged(drawing)
            total += 1
            warned.update(fault.code for fault in found.faults)
            off.append(100.0 * (found.measures.plateau_force_n / drawing.plateau - 1.0))
            if found.verdict != "accepted":
                wrong.append((shape, rate, force, [(f.code, round(f.measured, 2)) for f in found.rejecting]))
    print(f"{kind.__name__}: {len(wrong)} of {total} rejected, plateau {min(off):+.2f} to {max(off):+.2f} %")
    print(f"   by shape {dict(Counter(w[0] for w in wrong))}, by Hz {dict(Counter(w[1] for w in wrong))},", end="")
    print(f" by N {dict(Counter(w[2] for w in wrong))}; all faults {dict(warned)}")
    for each in wrong if VERBOSE else []:
        print("   ", each)


def sawtooth(period, depth):
    """Return a force that falls within a tenth of a second and comes back until the next fall, again and again."""
    teeth = [((t, 0.0), (t + 0.1, -depth), (t + period - 0.001, 0.0)) for t in np.arange(0.3, 4.6, period)]
    return (tuple(point for tooth in teeth for point in tooth),)


def drops(depth, count=3, fall=0.12, back=0.3):
    return tuple(((t, 0.0), (t + fall, -depth), (t + fall + back, 0.0)) for t in np.linspace(0.8, 3.6, count))


def pushed(rise, fall, after=0.7):
    return (((2.8, 0.0), (3.3, rise), (3.3 + 0.15, rise - fall), (3.3 + after, rise - fall), (9.0, rise - fall)),)


def surge(height):
    return (((3.2, 0.0), (3.7, height), (9.0, height)),)


BASE = Person(hold=5.0, flicker=0.006, tremor=0.005, sway=0.01, breath=0.005, noise=0.15)


def with_fault(**changes):
    return dataclasses.replace(BASE, **changes)


def ramp_of(shape, seconds):
    """Return an effort whose rise to 90 % takes so long."""
    grid = np.linspace(0.0, 1.0, 20_001)
    return with_fault(shape=shape, ramp=seconds / float(grid[np.argmax(SHAPES[shape](grid) >= 0.9)]))


LIMITS = PROTOCOL
GRADED = {
    "fast-ramp": {f"{s} s {shape}": ramp_of(shape, s) for s in (0.35, 0.43, 0.65) for shape in SHAPES},
    "slow-ramp": {f"{s} s {shape}": ramp_of(shape, s) for s in (2.3, 2.8) for shape in ("straight", "least jerk")},
    "preload": {f"{100 * p:.0f} %": with_fault(before=((-1.2, 0.0), (-1.1, p), (0.0, p))) for p in (0.07, 0.13, 0.25)},
    "short-hold": {f"{h} s": with_fault(hold=h) for h in (1.5, 2.2, 2.5, 3.4)},
    "fading": {f"{100 * t:.1f} %/s": with_fault(trend=-t) for t in (0.07, 0.08, 0.09, 0.115, 0.14)},
    "still-rising": {f"{100 * t:.1f} %/s": with_fault(trend=t) for t in (0.07, 0.13, 0.16)},
    "overshoot": {
        f"{100 * o:.0f} %": with_fault(bumps=(((-0.15, 0.0), (0.0, o), (0.12, o), (0.5, 0.0)),))
        for o in (0.12, 0.2, 0.3, 0.4)
    },
    "unsteady-hold": {f"{100 * w:.0f} %": with_fault(hold=6.0, breath=w) for w in (0.1, 0.17, 0.22)},
    "shake": {f"{100 * s:.0f} %": with_fault(tremor=s) for s in (0.04, 0.07, 0.1)},
    "gave-way saw": {
        f"{100 * d:.0f} % in {p} s": with_fault(bumps=sawtooth(p, d))
        for d in (0.1, 0.15, 0.25)
        for p in (0.4, 0.7, 1.0, 1.5)
    },
    "gave-way drops": {
        f"{100 * d:.0f} % {f:.2f}/{b:.2f} s": with_fault(bumps=drops(d, fall=f, back=b))
        for d in (0.05, 0.1, 0.15, 0.2)
        for f, b in ((0.08, 0.12), (0.12, 0.3), (0.2, 0.5))
    },
    "examiner-pushed": {
        f"+{100 * r:.0f} -{100 * f:.0f} %": with_fault(bumps=pushed(r, f))
        for r in (0.14, 0.2, 0.35)
        for f in (0.3, 0.5)
    },
    "examiner-pushed surge": {f"+{100 * r:.0f} %": with_fault(bumps=surge(r)) for r in (0.12, 0.18, 0.25)},
    "zero-shift": {f"{100 * z:.0f} %": with_fault(zero_after=z) for z in (0.04, 0.06, 0.1)},
}


def graded(times=12):
    for name, cases in GRADED.items():
        code = name.split()[0]
        print(f"{name:<24}", end="")
        for label, person in cases.items():
            hits, others = [0, 0], Counter()
            for seed, (rate, force) in zip(
                range(times), product((100.0, 320.0, 1000.0), (60.0, 150.0, 300.0, 500.0)), strict=True
            ):
                found = judged(draw(dataclasses.replace(person, plateau=force), rate, seed))
                rejecting = [fault.code for fault in found.rejecting]
                hits[0] += code in rejecting
                hits[1] += code in [fault.code for fault in found.faults]
                others.update({r for r in rejecting if r != code})
            extra = f" {dict(others)}" if VERBOSE and others else ""
            print(f" [{label}: {hits[0]}/{times}, told {hits[1]}{extra}]", end="")
        print()


def many():
    for gap in (0.4, 0.6, 0.8, 1.0, 1.4, 2.0, 3.0):
        found = []
        for seed, (rate, force) in enumerate(product((100.0, 1000.0), (40.0, 150.0, 300.0, 600.0))):
            people = [mild(np.random.default_rng(seed + i), "straight", force) for i in range(4)]
            found.append(len(detect_efforts(*several(people, [gap] * 3, rate, seed))))
        print(f"gap {gap} s, four efforts: {found}")


if __name__ == "__main__":
    good(mild, 3)
    good(messy, 2)
    if "--good" not in sys.argv:
        graded()
        many()
