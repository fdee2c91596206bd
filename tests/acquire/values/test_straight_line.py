"""The line of a calibration, against the published worked example and a second library."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from acquire.values.straight_line import fit_line

# JCGM 100:2008, H.3, table H.6: readings of a thermometer and their corrections, degrees Celsius.
READINGS = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTIONS = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


@pytest.fixture
def thermometer():
    return fit_line(np.array(READINGS) - 20.0, CORRECTIONS)


def test_thermometer_of_the_guide(thermometer):
    # JCGM 100:2008, H.3.3: y1 = -0,1712 and s(y1) = 0,0029; y2 = 0,00218 and s(y2) = 0,00067;
    # r(y1, y2) = -0,930; s = 0,0035. Read in an open library's rendering of the example, and from memory.
    assert round(thermometer.intercept, 4) == -0.1712
    assert round(thermometer.intercept_uncertainty, 4) == 0.0029
    assert round(thermometer.slope, 5) == 0.00218
    assert round(thermometer.slope_uncertainty, 5) == 0.00067
    assert round(thermometer.correlation, 3) == -0.930
    assert round(thermometer.residual_sd, 4) == 0.0035
    assert thermometer.degrees_of_freedom == 9


def test_predicted_correction_of_the_guide(thermometer):
    # JCGM 100:2008, H.3.4: b(30 degrees) = -0,1494.
    assert round(thermometer.at(10.0), 4) == -0.1494


def test_origin_moved_to_the_middle_leaves_no_correlation():
    # JCGM 100:2008, H.3.5: with t0 at the mean reading r = 0, y1 = -0,1625, s(y1) = 0,0011, y2 as before (from memory).
    line = fit_line(np.array(READINGS) - np.mean(READINGS), CORRECTIONS)
    assert line.correlation == pytest.approx(0.0, abs=1e-12)
    assert (round(line.intercept, 4), round(line.intercept_uncertainty, 4)) == (-0.1625, 0.0011)
    assert round(line.slope, 5) == 0.00218


numbers = st.floats(-1e3, 1e3)


@given(st.lists(st.tuples(numbers, numbers), min_size=3, max_size=30))
def test_line_is_that_of_a_second_library(points):
    x, y = np.array(points).T
    if np.ptp(x) < 1.0 or np.ptp(y) < 1e-3:
        return
    line, other = fit_line(x, y), stats.linregress(x, y)
    assert line.slope == pytest.approx(other.slope, rel=1e-6, abs=1e-6)
    assert line.intercept == pytest.approx(other.intercept, rel=1e-6, abs=1e-5)
    assert line.slope_uncertainty == pytest.approx(other.stderr, rel=1e-4, abs=1e-4)
    assert line.intercept_uncertainty == pytest.approx(other.intercept_stderr, rel=1e-4, abs=1e-3)


@given(st.lists(st.tuples(numbers, numbers), min_size=3, max_size=9), st.floats(-1e4, 1e4))
def test_shifting_the_abscissae_changes_no_slope(points, shift):
    x, y = np.array(points).T
    if np.ptp(x) < 1.0:
        return
    one, other = fit_line(x, y), fit_line(x + shift, y)
    assert other.slope == pytest.approx(one.slope, rel=1e-6, abs=1e-6)
    assert other.slope_uncertainty == pytest.approx(one.slope_uncertainty, rel=1e-3, abs=1e-3)


def test_two_points_leave_no_scatter():
    line = fit_line([0.0, 2.0], [1.0, 5.0])
    assert (line.intercept, line.slope, line.degrees_of_freedom) == (1.0, 2.0, 0)
    assert math.isnan(line.residual_sd)
    assert math.isnan(line.intercept_uncertainty)
    assert math.isnan(line.slope_uncertainty)


@pytest.mark.parametrize(
    ("x", "y", "match"),
    [
        ([1.0], [1.0], r"at least 2 numbers, got \(1,\)"),
        ([1.0, 2.0], [1.0], r"two rows of at least 2 numbers, got \(2,\) and \(1,\)"),
        ([1.0, math.nan], [1.0, 2.0], "must be finite"),
        ([3.0, 3.0, 3.0], [1.0, 2.0, 3.0], "two different numbers, got 3.0 at all 3 points"),
    ],
)
def test_points_without_a_line_are_refused(x, y, match):
    with pytest.raises(ValueError, match=match):
        fit_line(x, y)
