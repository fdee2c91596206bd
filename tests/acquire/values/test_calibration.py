import datetime as dt
import math
import os

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress

from acquire.errors import CalibrationError
from acquire.sensor.calibration_file import load_calibration, save_calibration
from acquire.values.calibration import (
    Calibration,
    CalibrationPoint,
    CalibrationState,
    CalibrationUncertainty,
    fit_calibration,
    residuals,
)

DAY = dt.date(2026, 3, 2)


def hang(*points):
    return [CalibrationPoint(load_n=load, counts=counts) for load, counts in points]


def cell(**changes):
    fields = {"newtons_per_count": 0.01, "zero_counts": 1000.0, "rated_force_n": 500.0}
    return Calibration(**{**fields, **changes})


# Newtons


def test_force_of_counts_above_and_below_zero():
    assert cell().force([1000, 1100, 900]).tolist() == [0.0, 1.0, -1.0]


def test_force_with_the_zero_of_the_trial():
    assert cell().force(np.array([1100]), zero_counts=1050.0).tolist() == [0.5]


def test_force_with_a_zero_of_zero_counts():
    assert cell().force([1000], zero_counts=0.0).tolist() == [10.0]


def test_force_of_falling_counts_is_positive():
    assert cell(newtons_per_count=-0.01).force([900]).tolist() == [1.0]


@pytest.mark.parametrize("kind", [np.int16, np.int32, np.float32, np.float64])
def test_force_is_float64_whatever_the_counts(kind):
    force = cell().force(np.array([1100, -100], dtype=kind))
    assert force.dtype == np.float64
    assert force == pytest.approx([1.0, -11.0])


def test_force_of_the_widest_counts_does_not_wrap():
    counts = np.array([-(2**31), 2**31 - 1], dtype=np.int32)
    assert cell(newtons_per_count=1.0, zero_counts=10.0).force(counts).tolist() == [-2147483658.0, 2147483637.0]


def test_force_leaves_counts_unchanged():
    counts = np.array([1.0, 2.0])
    cell().force(counts)
    assert counts.tolist() == [1.0, 2.0]


def test_force_of_a_lost_sample_is_nan():
    assert math.isnan(cell().force([math.nan])[0])


# Clipping


def test_clipped_at_and_beyond_the_limit_of_the_converter():
    sensor = cell(limit_counts=(-32768, 32767), rated_force_n=1e6)
    assert sensor.clipped([-32769, -32768, -32767, 0, 32766, 32767]).tolist() == [True, True, False, False, False, True]


def test_clipped_at_and_beyond_rated_force_from_the_zero_of_the_calibration():
    counts = [1000 - 50000, 1000 - 49999, 1000, 1000 + 49999, 1000 + 50000]
    assert cell().clipped(counts).tolist() == [True, False, False, False, True]


def test_clipped_of_a_lost_sample_is_false():
    assert cell(limit_counts=(-10, 10)).clipped([math.nan]).tolist() == [False]


def test_clipped_without_a_rated_force_is_by_the_converter_alone():
    sensor = cell(rated_force_n=None, limit_counts=(-(10**9), 10**9))
    assert sensor.clipped([10**8, 10**9]).tolist() == [False, True]


@pytest.mark.parametrize(
    ("rated", "limits", "known"),
    [(500.0, None, True), (None, (-8.0, 8.0), True), (500.0, (-8.0, 8.0), True), (None, None, False)],
)
def test_limit_is_known_by_the_cell_or_the_converter(rated, limits, known):
    sensor = cell(rated_force_n=rated, limit_counts=limits)
    assert sensor.limit_known is known
    assert not sensor.clipped([0.0]).any()


# Fitting


def test_zero_and_one_known_load_give_zero_and_slope():
    fitted = fit_calibration(hang((0.0, 1200.0), (49.03325, 11200.0)), rated_force_n=500.0)
    assert fitted.zero_counts == pytest.approx(1200.0, abs=1e-9)
    assert fitted.newtons_per_count == pytest.approx(0.004903325, rel=1e-12)
    assert fitted.force([11200.0])[0] == pytest.approx(49.03325, rel=1e-12)


def test_line_through_scattered_loads_is_that_of_an_independent_library():
    points = hang((0, 13), (50, 1009), (100, 2021), (150, 2990), (200, 4008), (250, 5001))
    fitted = fit_calibration(points, rated_force_n=500.0)
    line = linregress([p.load_n for p in points], [p.counts for p in points])
    assert fitted.newtons_per_count == pytest.approx(1 / line.slope, rel=1e-12)
    assert fitted.zero_counts == pytest.approx(line.intercept, rel=1e-9)
    relative = line.stderr / line.slope
    assert residuals(fitted).slope_uncertainty == pytest.approx(fitted.newtons_per_count * relative, rel=1e-9)


@given(
    st.floats(1e-6, 1e3) | st.floats(-1e3, -1e-6),
    st.floats(-8e6, 8e6),
    st.lists(st.integers(-500, 500), min_size=2, max_size=9, unique=True),
)
def test_points_on_a_line_give_back_the_line(slope, zero, loads):
    points = hang(*((float(load), zero + load / slope) for load in loads))
    span = (max(loads) - min(loads)) / abs(slope)
    if span <= 1e-6 * max(abs(point.counts) for point in points):
        return  # the load hardly moves the counts: rounding speaks, not the line
    fitted = fit_calibration(points, rated_force_n=500.0)
    assert fitted.newtons_per_count == pytest.approx(slope, rel=1e-6)
    assert np.abs(residuals(fitted).force_n).max() < 1e-3


def test_fit_keeps_points_and_facts():
    points = hang((0.0, 0.0), (100.0, 5000.0))
    fitted = fit_calibration(
        points, rated_force_n=500.0, limit_counts=(-8.0, 8.0), serial="A7", date=DAY, by="X01", valid_days=30
    )
    assert fitted.points == tuple(points)
    facts = (fitted.rated_force_n, fitted.limit_counts, fitted.serial, fitted.date, fitted.by, fitted.valid_days)
    assert facts == (500.0, (-8.0, 8.0), "A7", DAY, "X01", 30)


def test_residuals_in_newtons_and_percent_of_rated_force():
    # Counts 2 per N but for one reading 3 counts high: by hand, slope 2, zero 1, errors -0.5, +1, -0.5 N.
    rest = residuals(fit_calibration(hang((0, 0), (100, 203), (200, 400)), rated_force_n=200.0))
    assert rest.force_n == pytest.approx([-0.5, 1.0, -0.5])
    assert rest.pct == pytest.approx([-0.25, 0.5, -0.25])
    assert rest.largest_pct == pytest.approx(0.5)
    # s = sqrt(1.5/1) N over sqrt(Sxx) = sqrt(20000) N, times 0.5 N/count
    assert rest.slope_uncertainty == pytest.approx(0.5 * math.sqrt(1.5 / 20000))
    assert rest.scatter_n == pytest.approx(math.sqrt(1.5))


def test_scatter_and_slope_are_those_of_the_guides_thermometer():
    # JCGM 100:2008, H.3: 11 corrections b against readings t, and what it prints: slope 0.00218 with a standard
    # uncertainty of 0.00067, scatter 0.0035 (data and results read in the documentation of GTC, example GUM_H3).
    t = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
    b = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
    fitted = fit_calibration(hang(*zip(t, b, strict=True)), rated_force_n=500.0)
    rest, slope = residuals(fitted), 1 / fitted.newtons_per_count
    assert slope == pytest.approx(0.00218, abs=5e-6)
    assert rest.slope_uncertainty / fitted.newtons_per_count * slope == pytest.approx(0.00067, abs=5e-6)
    assert rest.scatter_n * slope == pytest.approx(0.0035, abs=5e-5)


def test_residuals_of_two_points_say_nothing_of_the_slope():
    rest = residuals(fit_calibration(hang((0, 0), (100, 200)), rated_force_n=200.0))
    assert rest.pct == pytest.approx([0.0, 0.0])
    assert math.isnan(rest.slope_uncertainty)
    assert math.isnan(rest.scatter_n)


def test_residuals_without_points_are_empty():
    rest = residuals(cell())
    assert len(rest.force_n) == len(rest.pct) == 0
    assert math.isnan(rest.largest_pct)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([], r"needs the zero and one known load, got 0 point\(s\)"),
        (hang((0, 0)), r"needs the zero and one known load, got 1 point\(s\)"),
        (hang((50, 10), (50, 20), (50, 30)), r"needs two different loads, got 50\.0 N at all 3 points"),
        (hang((0, 0), (0, 20)), r"needs two different loads, got 0\.0 N at all 2 points"),
        (hang((0, 7), (50, 7)), r"do not follow the load: 7\.0 to 7\.0 counts for 0\.0 to 50\.0 N"),
        (hang((0, 0), (50, 9), (100, 0)), r"do not follow the load: 0\.0 to 9\.0 counts for 0\.0 to 100\.0 N"),
        (hang((0, 0), (math.nan, 7)), r"must be finite, got nan N with 7\.0 counts at point 2"),
        (hang((0, math.inf), (50, 7)), r"must be finite, got 0\.0 N with inf counts at point 1"),
    ],
)
def test_points_that_make_no_line_are_refused(points, message):
    with pytest.raises(CalibrationError, match=message):
        fit_calibration(points, rated_force_n=500.0)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"newtons_per_count": 0.0}, r"^newtons_per_count must be finite, not 0, got 0\.0 N/count$"),
        ({"newtons_per_count": math.nan}, r"^newtons_per_count must be finite, not 0, got nan N/count$"),
        ({"zero_counts": math.inf}, r"^zero_counts must be finite, got inf counts$"),
        ({"rated_force_n": -500.0}, r"^rated_force_n must be positive, got -500\.0 N$"),
        ({"limit_counts": (8.0, -8.0)}, r"^limit_counts must be low then high, got \(8\.0, -8\.0\) counts$"),
        ({"valid_days": 0}, r"^valid_days must be 1 to 3660, got 0 days$"),
        ({"valid_days": 3661}, r"^valid_days must be 1 to 3660, got 3661 days$"),
    ],
)
def test_field_out_of_range_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        cell(**change)


# State


@pytest.mark.parametrize(
    ("days", "state"),
    [
        (-5, CalibrationState.CURRENT),
        (0, CalibrationState.CURRENT),
        (364, CalibrationState.CURRENT),
        (365, CalibrationState.EXPIRED),
        (4000, CalibrationState.EXPIRED),
    ],
)
def test_state_by_age(days, state):
    assert cell(date=DAY).state(DAY + dt.timedelta(days=days)) is state


def test_state_without_a_date_is_missing():
    assert cell(points=tuple(hang((0, 0), (1, 1)))).state(DAY) is CalibrationState.MISSING


# File


def test_file_is_toml_a_person_can_read(tmp_path):
    path = tmp_path / "cell.toml"
    save_calibration(path, cell(date=DAY, serial="LC-7", points=tuple(hang((0, 1000)))))
    assert path.read_text(encoding="utf-8") == (
        "# force in N = (counts - zero_counts) * newtons_per_count\n"
        "newtons_per_count = 0.01\n"
        "zero_counts = 1000.0\n"
        "rated_force_n = 500.0\n"
        'sensor = ""\n'
        'serial = "LC-7"\n'
        "date = 2026-03-02\n"
        'by = ""\n'
        "valid_days = 365\n"
        "\n"
        "[[points]]\n"
        "load_n = 0.0\n"
        "counts = 1000.0\n"
    )


def test_file_keeps_the_uncertainty(tmp_path):
    known = CalibrationUncertainty(sensitivity_pct=0.08, residual_sd_n=0.05, creep_n=-0.2)
    save_calibration(tmp_path / "cell.toml", cell(uncertainty=known, points=tuple(hang((0, 1000)))))
    assert load_calibration(tmp_path / "cell.toml").uncertainty == known
    assert "[uncertainty]\nsensitivity_pct = 0.08\n" in (tmp_path / "cell.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("value", [-0.1, math.nan, math.inf])
def test_uncertainty_that_is_none_is_refused(value):
    with pytest.raises(ValueError, match=rf"sensitivity_pct must be a finite number, not below 0, got {value}"):
        CalibrationUncertainty(sensitivity_pct=value, residual_sd_n=0.0)


def test_scatter_about_the_line_is_that_of_a_second_library():
    points = hang((0, 1000), (100, 11012), (200, 20985), (300, 31001))
    fitted = fit_calibration(points, rated_force_n=500.0)
    loads, counts = [p.load_n for p in points], [p.counts for p in points]
    line = linregress(loads, counts)
    rest = np.array(counts) - line.intercept - line.slope * np.array(loads)
    assert residuals(fitted).scatter_n == pytest.approx(math.sqrt(float(rest @ rest) / 2) / line.slope)
    assert math.isnan(residuals(fit_calibration(points[:2], rated_force_n=500.0)).scatter_n)


numbers = st.floats(allow_nan=False, allow_infinity=False)
words = st.text(st.characters(exclude_categories=["Cs"]))
calibrations = st.builds(
    Calibration,
    newtons_per_count=numbers.filter(bool),
    zero_counts=numbers,
    rated_force_n=st.none() | st.floats(min_value=0, exclude_min=True, allow_infinity=False),
    limit_counts=st.none() | st.tuples(st.floats(-1e9, -1), st.floats(1, 1e9)),
    serial=words,
    date=st.none() | st.dates(),
    by=words,
    valid_days=st.integers(1, 3660),
    points=st.lists(st.builds(CalibrationPoint, load_n=numbers, counts=numbers)).map(tuple),
)


@given(calibrations)
def test_file_gives_back_what_was_saved(tmp_path_factory, calibration):
    path = tmp_path_factory.mktemp("cell") / "cell.toml"
    save_calibration(path, calibration)
    assert load_calibration(path) == calibration


def test_numbers_of_numpy_are_saved_as_numbers(tmp_path):
    path = tmp_path / "cell.toml"
    save_calibration(path, cell(zero_counts=np.float64(7), points=tuple(hang((np.float64(1.5), np.int64(3))))))
    assert load_calibration(path) == cell(zero_counts=7.0, points=tuple(hang((1.5, 3.0))))


def test_saving_over_an_old_file_leaves_only_the_new_one(tmp_path):
    path = tmp_path / "cell.toml"
    save_calibration(path, cell(serial="old"))
    save_calibration(path, cell(serial="new"))
    assert load_calibration(path).serial == "new"
    assert list(tmp_path.iterdir()) == [path]


def test_saving_that_fails_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "cell.toml"
    save_calibration(path, cell(serial="old"))

    def full(_descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CalibrationError, match=r"cannot write the calibration .*cell\.toml: No space left"):
        save_calibration(path, cell(serial="new"))
    monkeypatch.undo()
    assert load_calibration(path).serial == "old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            'newtons_per_count = "x"\nrated_force_n = 1.0',
            r"cell\.toml: key newtons_per_count: expected `float`, got `str`",
        ),
        ("rated_force_n = 1.0", r"cell\.toml: .*missing.*`newtons_per_count`"),
        ("newtons_per_count = 1.0\nrated_force_n = 1.0\nslope = 2", r"cell\.toml: .*unknown.*`slope`"),
        ("newtons_per_count = 0.0\nrated_force_n = 1.0", r"cell\.toml: newtons_per_count must be finite, not 0"),
        ("newtons_per_count = \n", r"cell\.toml: .*TOML.*line 1"),
    ],
)
def test_file_that_is_no_calibration_is_refused_with_file_and_key(tmp_path, text, message):
    path = tmp_path / "cell.toml"
    path.write_text(text)
    with pytest.raises(CalibrationError, match=message):
        load_calibration(path)


def test_absent_file_is_named(tmp_path):
    with pytest.raises(CalibrationError, match=r"absent\.toml: there is no such file"):
        load_calibration(tmp_path / "absent.toml")
