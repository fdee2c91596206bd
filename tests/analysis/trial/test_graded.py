"""Each fault on either side of its limits, by its true value, and `brief` and `fast` on efforts of their kind.

The whole table, with more efforts, is `tests/bench/bench_judge.py`.
"""

import dataclasses

import numpy as np
import pytest
import truth
from drawn import SHAPES, Person, brief, draw, fast
from graded import GRADED
from scipy.optimize import brentq

from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

FORMS = {each.code: each for each in reversed(GRADED)}


def judged(drawing, protocol="ramp-and-hold"):
    return judge(Trace(time=drawing.time, force=drawing.force), load_protocol(protocol))


@pytest.mark.parametrize("code", FORMS)
def test_fault_is_found_by_its_true_value(code):
    graded = FORMS[code]
    found = {}
    for name in ("below", "between", "above"):
        value = getattr(graded, name)
        if value is not None:
            trial = judged(graded.drawn(value, rate=100.0, force=150.0, seed=7))
            found[name] = [fault.severity.value for fault in trial.faults if fault.code == code]
    assert found["above"] == ["reject"]
    assert found.get("between", ["warn"]) == ["warn"]
    assert "reject" not in found["below"]


# ---- preload and contact load ----


def beginning_with_force(share, rate, *, rest_s):
    """Return an effort from a force that is on from the first sample, so long before the onset."""
    person = Person(plateau=200.0, before=((-2.0, share), (0.0, share)), noise=0.2)
    drawing = draw(person, rate, 3)
    kept = drawing.time >= drawing.onset - rest_s
    return dataclasses.replace(drawing, time=drawing.time[kept] - drawing.time[kept][0], force=drawing.force[kept])


@pytest.mark.parametrize("rate", [80.0, 1000.0])
@pytest.mark.parametrize("rest_s", [0.1, 0.3, 1.0])
@pytest.mark.parametrize("share", [0.13, 0.2, 0.3])
def test_preload_without_a_rest_before_it_is_what_it_is(share, rest_s, rate):
    (preload,) = [
        each for each in judged(beginning_with_force(share, rate, rest_s=rest_s)).faults if each.code == "preload"
    ]
    assert preload.measured == pytest.approx(100.0 * share, abs=2.0)
    assert preload.severity.value == "reject"


@pytest.mark.parametrize("rest_s", [0.1, 1.0])
def test_no_preload_is_seen_where_a_trace_begins_just_before_the_onset(rest_s):
    found = judged(beginning_with_force(0.0, 500.0, rest_s=rest_s))
    assert "preload" not in [fault.code for fault in found.faults]


@pytest.mark.parametrize("share", [0.02, 0.04])
def test_contact_load_costs_the_same_at_every_rate(share):
    plateaus = [
        judged(beginning_with_force(share, rate, rest_s=1.0)).measures.plateau_force_n
        for rate in (80.0, 1000.0, 2000.0)
    ]
    assert plateaus == pytest.approx([200.0] * 3, rel=0.003)


# ---- times of the ramp ----


@pytest.mark.parametrize("rate", [200.0, 1000.0])
@pytest.mark.parametrize("seconds", [0.7, 1.4])
@pytest.mark.parametrize("name", SHAPES)
def test_rise_times_are_those_of_the_shape(name, seconds, rate):
    # where the shape meets a share: its inverse, by Brent's method of scipy
    at = {share: seconds * brentq(lambda x, s=share: SHAPES[name](x) - s, 0.0, 1.0) for share in (0.1, 0.5, 0.9)}
    found = judged(draw(Person(shape=name, ramp=seconds, noise=0.05), rate, 2)).measures
    assert found.rise_10_90_s == pytest.approx(at[0.9] - at[0.1], abs=0.01)
    late = found.onset_s - 2.0
    assert abs(late) <= max(found.onset_uncertainty_s, 0.01) + 0.01
    assert found.time_to_50_pct_s + late == pytest.approx(at[0.5], abs=0.01)
    assert found.ramp_time_s + late == pytest.approx(at[0.9], abs=0.012)


# ---- other protocols ----


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("kind", "rates"), [(brief, (80.0, 1000.0)), (fast, (1000.0, 2000.0))])
def test_good_efforts_of_its_kind_are_accepted(kind, rates, shape):
    for seed, rate in enumerate(rates):
        drawing = draw(kind(np.random.default_rng(seed), shape, 150.0), rate, seed)
        found = judged(drawing, kind.__name__)
        assert (found.verdict, found.faults) == ("accepted", ())
        assert found.measures.plateau_force_n == pytest.approx(truth.plateau(drawing, rate, seconds=1.0), rel=0.005)


FAULTY = {
    "brief": {
        "fast-ramp": {"ramp": 0.2},
        "slow-ramp": {"ramp": 3.2},
        "short-hold": {"hold": 1.0},
        "preload": {"before": ((-1.2, 0.0), (-1.1, 0.15), (0.0, 0.15))},
        "fading": {"trend": -0.2},
        "shake": {"tremor": 0.08},
    },
    "fast": {
        "slow-ramp": {"ramp": 1.5},
        "short-hold": {"hold": 0.25, "release": 0.15},
        "preload": {"before": ((-1.2, 0.0), (-1.1, 0.1), (0.0, 0.1))},
        "countermovement": {"before": ((-0.15, 0.0), (-0.08, -0.05), (0.0, 0.0))},
    },
}


@pytest.mark.parametrize(("protocol", "code"), [(name, code) for name, faults in FAULTY.items() for code in faults])
def test_faults_are_found_by_each_protocol(protocol, code):
    good = {"brief": Person(ramp=1.0, hold=2.8), "fast": Person(ramp=0.25, hold=2.0)}[protocol]
    person = dataclasses.replace(good, **FAULTY[protocol][code], flicker=0.004, noise=0.15)
    assert code in [fault.code for fault in judged(draw(person, 1000.0, 5), protocol).rejecting]


def test_fast_pushes_show_their_early_rates():
    """Withheld in 200 of 200 instructed ramps: a fast push is what they are asked of."""
    shown = {"0-50": 0, "0-250": 0}
    for seed in range(12):
        drawing = draw(fast(np.random.default_rng(seed), list(SHAPES)[seed % 6], 200.0), 1000.0, seed)
        rates = judged(drawing, "fast").measures.rfd_n_per_s
        start = round(drawing.onset * 1000.0)
        for band in shown:
            if rates[band] is not None:
                shown[band] += 1
                length = round(float(band[2:]))
                true = (drawing.true[start + length] - drawing.true[start]) / (length / 1000.0)
                assert rates[band] == pytest.approx(true, rel=0.2)
    assert shown["0-250"] >= 10
    assert shown["0-50"] >= 3
