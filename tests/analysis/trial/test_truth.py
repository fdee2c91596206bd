"""Measures against synthetic efforts whose truth is known, over the whole range that the program is for."""

import msgspec
import numpy as np
import pytest

from acquire.simulation.efforts import FAULTY, Effort, simulate
from acquire.values.records import Trace
from analysis.trial.faults import Severity
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

PROTOCOL = load_protocol()

SHAPES = {
    "half cosine": lambda x: 0.5 - 0.5 * np.cos(np.pi * x),
    "cubic": lambda x: 3.0 * x**2 - 2.0 * x**3,
    "least jerk": lambda x: 10.0 * x**3 - 15.0 * x**4 + 6.0 * x**5,
}


def drawn(chance, shape, rate):
    """Return a random effort without disturbance, its truth, and the force."""
    ramp, plateau, rest, hold = chance.uniform(1.0, 2.0), chance.uniform(25.0, 500.0), chance.uniform(1.0, 2.5), 4.5
    noise = chance.uniform(0.0, 0.005) * plateau
    time = np.arange(round((rest + ramp + hold + 2.2) * rate)) / rate
    done = np.clip((time - rest) / ramp, 0.0, 1.0)
    end = rest + ramp + hold
    force = plateau * shape(done) * np.interp(time, [end, end + 0.25], [1.0, 0.0])
    force += noise * chance.standard_normal(len(time))
    grid = np.linspace(0.0, 1.0, 100_001)
    ramp_time = ramp * float(grid[np.argmax(shape(grid) >= 0.9)])
    return Trace(time=time, force=force), {
        "onset": rest,
        "plateau": plateau,
        "ramp": ramp_time,
        "slope": plateau / ramp,
    }


@pytest.mark.parametrize("rate", [80.0, 200.0, 1000.0, 2000.0])
def test_straight_ramps_are_measured_truly(rate):
    chance = np.random.default_rng(11)
    onset_limit, ramp_limit = (0.020, 0.040) if rate >= 1000.0 else (0.060, 0.080)
    for _ in range(60):
        trace, truth = drawn(chance, lambda x: x, rate)
        found = judge(trace, PROTOCOL).measures
        assert found.plateau_force_n == pytest.approx(truth["plateau"], rel=0.005)
        assert found.peak_force_n == pytest.approx(truth["plateau"], rel=0.02)
        assert found.onset_s == pytest.approx(truth["onset"], abs=onset_limit)
        assert found.ramp_time_s == pytest.approx(truth["ramp"], abs=ramp_limit)
        assert found.ramp_slope_n_per_s == pytest.approx(truth["slope"], rel=0.02)


@pytest.mark.parametrize("name", ["half cosine", "cubic"])
@pytest.mark.parametrize("rate", [1000.0, 2000.0])
def test_s_shaped_ramps_are_measured_truly(name, rate):
    chance = np.random.default_rng(12)
    for _ in range(60):
        trace, truth = drawn(chance, SHAPES[name], rate)
        found = judge(trace, PROTOCOL).measures
        assert found.plateau_force_n == pytest.approx(truth["plateau"], rel=0.005)
        assert found.peak_force_n == pytest.approx(truth["plateau"], rel=0.02)
        assert found.onset_s == pytest.approx(truth["onset"], abs=0.060)
        assert found.ramp_time_s == pytest.approx(truth["ramp"], abs=0.080)


def test_least_jerk_ramp_whose_toe_drowns_in_noise_is_mostly_within_60_ms():
    # 60 ms into a least-jerk ramp of 2 s the force is 0.03 % of the plateau, a twentieth of the noise
    chance = np.random.default_rng(13)
    errors = []
    for _ in range(100):
        trace, truth = drawn(chance, SHAPES["least jerk"], 1000.0)
        errors.append(abs(judge(trace, PROTOCOL).measures.onset_s - truth["onset"]))
    assert np.percentile(errors, 95) <= 0.060
    assert max(errors) <= 0.100


def test_onset_uncertainty_covers_the_truth():
    chance = np.random.default_rng(14)
    for shape in SHAPES.values():
        for _ in range(40):
            trace, truth = drawn(chance, shape, 1000.0)
            found = judge(trace, PROTOCOL).measures
            assert abs(found.onset_s - truth["onset"]) <= max(found.onset_uncertainty_s, 0.010)


def good_effort(chance):
    return Effort(
        plateau_n=chance.uniform(25.0, 500.0),
        shape=chance.choice(["straight", "smooth"]),
        ramp_s=chance.uniform(1.05, 2.0),
        hold_s=chance.uniform(3.8, 6.0),
        fall_s=chance.uniform(0.15, 0.4),
        noise_n=chance.uniform(0.02, 0.1),
        sway_pct=chance.uniform(0.0, 1.5),
        tremor_pct=chance.uniform(0.0, 1.0),
    )


@pytest.mark.slow
def test_good_efforts_are_accepted_200_of_200():
    chance = np.random.default_rng(15)
    verdicts = []
    for seed in range(200):
        rate = chance.choice([80.0, 320.0, 1000.0, 2000.0])
        found = judge(simulate(good_effort(chance), rate_hz=rate, seed=seed).trace, PROTOCOL)
        verdicts.append((found.verdict, [f.code for f in found.faults]))
    assert [v for v in verdicts if v[0] != "accepted"] == []


@pytest.mark.parametrize("code", FAULTY)
def test_each_fault_is_rejected_for_that_reason(code):
    for seed in range(10):
        rate = 8.0 if code == "slow-sensor" else 1000.0
        found = judge(simulate(FAULTY[code], rate_hz=rate, seed=seed).trace, PROTOCOL)
        rejecting = [fault.code for fault in found.faults if fault.severity is Severity.REJECT]
        assert found.verdict == "rejected"
        assert code in rejecting


@pytest.mark.parametrize("code", [code for code in FAULTY if code != "slow-sensor"])
def test_each_fault_shows_at_80_hz_too(code):
    found = judge(simulate(FAULTY[code], rate_hz=80.0, seed=2).trace, PROTOCOL)
    assert code in [fault.code for fault in found.faults if fault.severity is Severity.REJECT]


@pytest.mark.parametrize("plateau", [40.0, 120.0, 480.0])
@pytest.mark.parametrize("code", [c for c in FAULTY if c not in {"no-effort", "slow-sensor", "clipped"}])
def test_faults_do_not_depend_on_strength(code, plateau):
    effort = msgspec.structs.replace(FAULTY[code], plateau_n=plateau, noise_n=0.05)
    found = judge(simulate(effort, seed=4).trace, PROTOCOL)
    assert code in [fault.code for fault in found.faults if fault.severity is Severity.REJECT]
