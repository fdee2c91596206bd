"""Findings: each at its limits, in both directions, and what an uncertain measurement may say."""

import datetime as dt

import msgspec
import pytest

from acquire.values.calibration import Calibration
from analysis.sensor_check import Status, find, load_check_limits, too_old, zero_moved
from analysis.sensor_check.hum import Tone
from analysis.sensor_check.verdict import CODES, worst

from .conftest import COUNTS_PER_NEWTON, RATED_N, ZERO, seen

LIMITS = load_check_limits()
NOMINAL = Calibration(newtons_per_count=1.0 / COUNTS_PER_NEWTON)


def found(unloaded=None, loaded=None, *, calibration=NOMINAL, before=None, limits=LIMITS):
    return {
        finding.code: finding
        for finding in find(
            unloaded or seen(), loaded, calibration=calibration, rated_force_n=RATED_N, limits=limits, before=before
        )
    }


def test_good_sensor_passes_everything(runs):
    findings = found(loaded=runs(noise=0.002).assess())
    assert {finding.status for finding in findings.values()} == {Status.PASS}
    assert worst(findings.values()) is Status.PASS
    assert list(findings) == [code for code in CODES if code in findings]


def test_look_alone_says_nothing_of_loads():
    assert list(found()) == ["lost-samples", "rate", "noise", "zero", "drift"]


OF_A_LOOK = [
    ("noise", "noise_n", "noise", 0.01 * RATED_N),
    ("zero", "zero_n", "zero", 0.01 * RATED_N),
    ("drift", "drift_n_per_min", "drift", 0.01 * RATED_N),
]


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("code", "field", "limit", "unit"), OF_A_LOOK)
def test_look_is_judged_at_its_limits(code, field, limit, unit, sign):
    warn, fail = getattr(LIMITS, limit).warn_pct, getattr(LIMITS, limit).fail_pct
    for pct, status in ((0.99 * warn, "pass"), (1.01 * warn, "warn"), (0.99 * fail, "warn"), (1.01 * fail, "fail")):
        finding = found(seen(**{field: sign * pct * unit}))[code]
        assert finding.status == status, pct
        assert finding.measured_pct == pytest.approx(sign * pct)
        assert finding.measured_n == pytest.approx(sign * pct * unit)
        assert (finding.warn_pct, finding.fail_pct) == (warn, fail)


@pytest.mark.parametrize(("lost", "status"), [(0, "pass"), (1, "warn"), (300, "warn"), (304, "fail")])
def test_lost_samples_are_of_all(lost, status):
    # fail above 1 % of the 30,000 received and the lost
    assert found(seen(lost=lost))["lost-samples"].status == status


@pytest.mark.parametrize(("rate", "status"), [(1000.0, "pass"), (1031.0, "warn"), (969.0, "warn"), (890.0, "fail")])
def test_rate_is_held_against_the_nominal_one(rate, status):
    assert found(seen(rate_hz=rate))["rate"].status == status


def test_unknown_rate_is_no_finding():
    assert "rate" not in found(seen(rate_hz=None, rate_uncertainty_hz=None))


@pytest.mark.parametrize(("rms", "status"), [(0.09, "pass"), (0.11, "warn"), (0.51, "fail")])
def test_tone_is_judged_by_its_size(rms, status):
    tone = Tone(frequency_hz=50.0, rms_n=rms, mains_hz=50.0)
    assert found(seen(tone=tone))["hum"].status == status


LOADS = {
    "linearity": lambda size: lambda at: at.load + (size if at.load > 150.0 else 0.0),
    "hysteresis": lambda size: lambda at: at.load + (size if at.way == "down" and at.load else 0.0),
    "repeatability": lambda size: lambda at: at.load + (size if at.run == 2 and at.load else 0.0),
    "zero-return": lambda size: lambda at: at.load + (size if at.way == "down" and not at.load else 0.0),
}


@pytest.mark.parametrize("code", LOADS)
def test_loads_are_judged_at_their_limits(runs, code):
    limit = getattr(LIMITS, code.replace("-", "_"))
    one = abs(found(loaded=runs(LOADS[code](1.0)).assess())[code].measured_n)
    for pct, status in ((0.9 * limit.warn_pct, "pass"), (1.1 * limit.warn_pct, "warn"), (1.1 * limit.fail_pct, "fail")):
        finding = found(loaded=runs(LOADS[code](0.01 * pct * RATED_N / one)).assess())[code]
        assert finding.status == status, pct
        assert abs(finding.measured_pct) == pytest.approx(pct, rel=0.05)


def test_sensitivity_is_held_against_a_calibration_but_not_against_a_profile(runs):
    loaded = runs(slope=1.01 * COUNTS_PER_NEWTON).assess()
    assert "sensitivity" not in found(loaded=loaded)
    dated = msgspec.structs.replace(NOMINAL, date=dt.date(2026, 1, 1))
    finding = found(loaded=loaded, calibration=dated)["sensitivity"]
    assert (finding.status, finding.measured_pct) == ("warn", pytest.approx(1.0))
    falling = msgspec.structs.replace(dated, newtons_per_count=-dated.newtons_per_count)
    assert (
        found(loaded=runs(slope=-1.03 * COUNTS_PER_NEWTON).assess(), calibration=falling)["sensitivity"].status
        == "fail"
    )


def test_uncertain_loads_warn(runs):
    assert found(loaded=runs().assess(tolerance_pct=1.0))["uncertainty"].status == "warn"
    assert found(loaded=runs().assess(tolerance_pct=3.0))["uncertainty"].status == "fail"


@pytest.mark.parametrize("drift", [0.0, 9.0])
def test_measurement_that_cannot_tell_warns_whatever_it_shows(drift):
    finding = found(seen(drift_n_per_min=drift, drift_uncertainty_n_per_min=3.0))["drift"]
    assert (finding.status, finding.sure) == ("warn", False)


# since the last check


def test_zero_that_moved_is_told_in_counts_of_the_sensor(check):
    before = check()
    finding = found(seen(zero_counts=ZERO + 4.0 * COUNTS_PER_NEWTON), before=before)["zero-moved"]
    assert (finding.status, finding.measured_n) == ("warn", pytest.approx(4.0))
    # another calibration in use since then moves nothing
    shifted = Calibration(newtons_per_count=1.0 / COUNTS_PER_NEWTON, zero_counts=9000.0)
    assert found(calibration=shifted, before=before)["zero-moved"].measured_n == 0.0


def test_sensitivity_that_moved_is_told(check, runs):
    before = check()
    finding = found(loaded=runs(slope=1.006 * COUNTS_PER_NEWTON, noise=0.002).assess(), before=before)[
        "sensitivity-moved"
    ]
    assert (finding.status, finding.measured_pct) == ("warn", pytest.approx(0.6, abs=0.01))
    # the same weights in the same place: neither masses nor gravity are in its uncertainty
    assert finding.expanded_pct < 0.03


def test_look_before_has_no_sensitivity_to_compare(check, runs):
    before = msgspec.structs.replace(check(), loaded=None)
    findings = found(loaded=runs().assess(), before=before)
    assert "zero-moved" in findings
    assert "sensitivity-moved" not in findings


@pytest.mark.parametrize(("moved", "status"), [(2.4, "pass"), (-2.6, "warn"), (10.1, "fail")])
def test_zero_of_a_session_is_judged_alone(moved, status):
    assert zero_moved(moved, rated_force_n=RATED_N, limits=LIMITS).status == status


@pytest.mark.parametrize(("days", "old"), [(0.0, False), (30.0, False), (30.01, True), (-1.0, False)])
def test_age_is_counted_to_the_limit(days, old):
    made = dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC)
    assert too_old(made, now=made + dt.timedelta(days=days), limits=LIMITS) is old
