"""The uncertainty of a force and a torque, each source by hand."""

import datetime as dt
import math
from dataclasses import replace

import msgspec
import numpy as np
import pytest
from made_trials import CALIBRATED, NOMINAL, judged, made_trial

from acquire.values.calibration import CalibrationPoint, CalibrationUncertainty, fit_calibration
from analysis.results.force_budget import Source, force_components, repeatability, torque_components
from analysis.results.reading import mean_reading, read, step_of
from analysis.results.settings import ScoreOf, load_result_settings
from analysis.results.spread import spread
from analysis.results.torque import limb_weight, torque
from analysis.statistics.uncertainty import Unknown

SETTINGS = load_result_settings()


def reading(*args, **made):
    (one,) = judged(made_trial(*args, **made))
    return read(one)


def rows(of):
    return {row.source: row for row in force_components(of, SETTINGS)}


def contributions(of):
    return {source: row.contribution for source, row in rows(of).items()}


def test_every_source_of_a_force_by_hand():
    found = contributions(reading(200.0, zero_after_n=0.6))
    assert found[Source.KNOWN_LOADS] == pytest.approx(200.0 * 0.005 / math.sqrt(3.0))
    assert found[Source.SENSITIVITY] == pytest.approx(200.0 * math.sqrt(1.5 / 20000.0))
    assert found[Source.RESIDUALS] == pytest.approx(math.sqrt(1.5))
    assert found[Source.ZERO_DRIFT] == pytest.approx(0.6 / math.sqrt(3.0))
    assert found[Source.NOISE] == pytest.approx(0.0, abs=1e-12)
    assert found[Source.RESOLUTION] == pytest.approx(0.01 / math.sqrt(12.0))
    assert found[Source.PAD_ANGLE] == pytest.approx(200.0 * math.radians(5.0) ** 2 / math.sqrt(20.0), rel=5e-3)
    assert Source.RESTING_FORCE not in found, "nothing was taken off"


def test_calibration_counts_its_degrees_of_freedom_once():
    found = rows(reading(200.0))
    assert found[Source.SENSITIVITY].dof == found[Source.RESIDUALS].dof == 1
    assert found[Source.SENSITIVITY].shared == found[Source.RESIDUALS].shared != ""


def test_noise_is_that_of_both_means():
    # +-0.1 N by turns: standard deviation 0.1 N, 3000 samples of plateau and 500 of rest
    row = rows(reading(200.0, noise_n=0.1))[Source.NOISE]
    assert row.contribution == pytest.approx(0.1 * math.sqrt(1 / 3000 + 1 / 500), rel=2e-3)
    assert row.dof == 499


def test_resolution_of_written_newtons_is_their_last_digit():
    trial = made_trial(200.0, noise_n=0.03)
    written = replace(
        trial, counts=trial.counts / 10.0, calibration=msgspec.structs.replace(NOMINAL, newtons_per_count=0.1)
    )
    (one,) = judged(written)
    assert read(one).resolution_n == pytest.approx(0.01)


def test_step_of_a_record_that_never_moves_is_none():
    assert step_of(np.array([1.5, 1.5, np.nan])) == 0.0


LOADS_GONE = msgspec.structs.replace(CALIBRATED, points=())
TWO_LOADS = fit_calibration(
    [CalibrationPoint(load_n=0.0, counts=0.0), CalibrationPoint(load_n=100.0, counts=10000.0)],
    rated_force_n=500.0,
    date=dt.date(2026, 1, 1),
)


@pytest.mark.parametrize(
    ("calibration", "why", "loads_known"),
    [
        (NOMINAL, Unknown.NOT_CALIBRATED, False),
        (LOADS_GONE, Unknown.LOADS_NOT_ON_RECORD, True),
        (TWO_LOADS, Unknown.TWO_LOADS, True),
    ],
)
def test_calibration_that_cannot_tell_says_so(calibration, why, loads_known):
    found = rows(reading(200.0, calibration=calibration))
    assert {found[Source.SENSITIVITY].unknown, found[Source.RESIDUALS].unknown} == {why}
    assert (found[Source.KNOWN_LOADS].unknown is None) is loads_known


def test_trace_that_ends_early_leaves_the_zero_unknown():
    found = rows(reading(200.0, rest_after_s=0.1))
    assert found[Source.ZERO_DRIFT].unknown is Unknown.NO_ZERO_AFTER
    assert found[Source.NOISE].unknown is None


def test_trace_that_starts_under_way_has_no_zero_before():
    (one,) = judged(made_trial(200.0))
    effort = replace(one.judgement.effort, quiet_stop=0)
    found = rows(read(replace(one, judgement=replace(one.judgement, effort=effort))))
    assert found[Source.ZERO_DRIFT].unknown is found[Source.NOISE].unknown is Unknown.NO_ZERO_BEFORE


def test_torque_is_that_of_the_force_and_the_ruler():
    one = reading(200.0, lever_arm_m=0.25)
    assert one.torque_nm == pytest.approx(50.0)
    forces = force_components(one, SETTINGS)
    *carried, ruler = torque_components(forces, one, SETTINGS)
    assert [row.contribution for row in carried] == pytest.approx([0.25 * row.contribution for row in forces])
    assert ruler.source == Source.LEVER_ARM
    assert ruler.contribution == pytest.approx(200.0 * 0.005 / math.sqrt(3.0))


@pytest.mark.parametrize("arm", [None, 0.0, -0.2])
def test_without_a_lever_arm_there_is_no_torque(arm):
    one = reading(200.0, lever_arm_m=arm)
    assert (one.lever_arm_m, one.torque_nm) == (None, None)
    with pytest.raises(ValueError, match="a torque needs a lever arm, got none"):
        torque_components((), one, SETTINGS)


def test_lever_arm_of_nothing_is_refused():
    with pytest.raises(ValueError, match=r"lever_arm_m must be above 0, got 0\.0 m"):
        torque(100.0, 0.0)


def test_limb_weight_is_taken_off():
    one = reading(200.0, resting_force_n=12.0)
    assert (one.force_n, one.weight_n) == pytest.approx((188.0, 12.0))
    assert rows(one)[Source.RESTING_FORCE].contribution == pytest.approx(12.0 * 0.2 / math.sqrt(3.0))


def test_limb_that_hangs_away_from_the_pad_adds_to_the_force():
    assert reading(200.0, resting_force_n=-12.0).force_n == pytest.approx(212.0)


CHECKED = msgspec.structs.replace(
    CALIBRATED,
    uncertainty=CalibrationUncertainty(
        sensitivity_pct=0.1,
        residual_sd_n=0.5,
        sensitivity_dof=3.0,
        between_runs_pct=0.2,
        runs=2,
        linearity_n=-0.4,
        hysteresis_n=1.6,
        creep_n=-0.3,
    ),
)


def test_what_a_check_found_is_in_the_budget_of_a_force():
    """200 N, the greatest load of the calibration; limits over root 3 (JCGM 100:2008, 4.3.7)."""
    rows = {row.source: row for row in force_components(reading(200.0, calibration=CHECKED), SETTINGS)}
    assert Source.KNOWN_LOADS not in rows, "they are in the uncertainty of the sensitivity"
    force = 200.0
    expected = {
        Source.SENSITIVITY: 0.001 * force,
        Source.SENSOR_REPEATABILITY: 0.002 * force,
        Source.RESIDUALS: 0.4 / math.sqrt(3.0),
        Source.HYSTERESIS: 1.6 / math.sqrt(3.0),
        Source.CREEP: 0.3 / math.sqrt(3.0),
    }
    assert {source: rows[source].contribution for source in expected} == pytest.approx(expected, rel=0.01)
    assert (rows[Source.SENSITIVITY].dof, rows[Source.SENSOR_REPEATABILITY].dof) == (3.0, 1)


def test_check_that_found_nothing_leaves_the_points_to_speak():
    rows = {row.source for row in force_components(reading(200.0, calibration=CALIBRATED), SETTINGS)}
    assert {Source.KNOWN_LOADS, Source.SENSITIVITY, Source.RESIDUALS} <= rows
    assert not {Source.HYSTERESIS, Source.CREEP, Source.SENSOR_REPEATABILITY} & rows


def test_limb_weight_that_is_in_the_zero_is_not_taken_off_twice():
    # the limb lies on the pad before and after: the trial's own zero is 12 N above that of the free sensor
    one = reading(188.0, zero_n=12.0, resting_force_n=12.0)
    assert (one.force_n, one.weight_n) == pytest.approx((188.0, 0.0))
    assert limb_weight(12.0, 5.0) == 7.0


@pytest.mark.parametrize(("of", "standard"), [(ScoreOf.BEST, 10.0), (ScoreOf.MEAN, 10.0 / math.sqrt(3.0))])
def test_best_spreads_as_one_trial_and_the_mean_as_their_mean(of, standard):
    row = repeatability(spread([1, 2, 3], [190.0, 200.0, 210.0]), of=of, unit="N")
    assert (row.standard, row.value, row.dof) == pytest.approx((standard, 10.0, 2))


@pytest.mark.parametrize("count", [2, 3, 4, 5, 9])
def test_median_spreads_as_medians_of_drawn_sets_do(count):
    # drawn here, not by the order statistics of the table: 400 000 sets, one part in 500
    drawn = np.random.default_rng(count).standard_normal((400_000, count))
    row = repeatability(spread(range(count), [0.0, *range(1, count)]), of=ScoreOf.MEDIAN, unit="N")
    near = 0.03 if count == 9 else 0.005  # beyond five trials the limit for many values is taken
    assert row.standard / row.value == pytest.approx(np.median(drawn, axis=1).std(), rel=near)


def test_one_trial_has_no_repeatability():
    assert repeatability(spread([1], [190.0]), of=ScoreOf.BEST, unit="N").unknown is Unknown.ONE_TRIAL


def test_mean_of_readings():
    one, two = reading(190.0, zero_after_n=0.6, lever_arm_m=0.2), reading(210.0, zero_after_n=-0.2, lever_arm_m=0.3)
    mean = mean_reading([one, two])
    assert (mean.force_n, mean.zero_shift_n, mean.lever_arm_m) == pytest.approx((200.0, 0.4, 0.25))
    assert mean.calibrations == (CALIBRATED,)
    assert mean.weight_n is None


def test_mean_lacks_what_one_of_its_trials_lacks():
    whole = reading(190.0, lever_arm_m=0.2)
    mean = mean_reading([whole, reading(210.0, rest_after_s=0.1, resting_force_n=10.0)])
    assert (mean.zero_shift_n, mean.lever_arm_m, mean.weight_n) == (None, None, pytest.approx(10.0))
    assert mean_reading([whole, replace(whole, noise_n=None)]).noise_n is None


def test_mean_over_two_calibrations_cannot_tell():
    mean = mean_reading([reading(190.0), reading(210.0, calibration=TWO_LOADS)])
    assert mean.calibrations == (CALIBRATED, TWO_LOADS)
    assert rows(mean)[Source.SENSITIVITY].unknown is Unknown.CALIBRATIONS_DIFFER
    assert rows(mean)[Source.KNOWN_LOADS].unknown is None


def test_trial_that_does_not_count_is_not_read():
    (one,) = judged(made_trial(200.0, aside="slipped"))
    with pytest.raises(ValueError, match="trial 1 must be accepted and not set aside to be read"):
        read(one)
