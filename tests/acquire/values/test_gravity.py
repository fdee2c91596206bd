import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.values import gravity
from acquire.values.gravity import STANDARD_GRAVITY, local_gravity, normal_gravity, weight

# Geodetic Reference System 1980 (Moritz 2000), worked out in the closed form and confirmed with an
# independent open geodesy package: latitude, height, m/s2.
ON_ELLIPSOID = [
    (0, 9.780326772),
    (15, 9.783786398),
    (30, 9.793248704),
    (45, 9.806199202),
    (45.5, 9.806651755),
    (50, 9.810703568),
    (52.5, 9.812914133),
    (60, 9.819178385),
    (75, 9.828698058),
    (90, 9.832186369),
]
WITH_HEIGHT = [
    (45, 1000, 9.80311433),
    (0, 1000, 9.77723970),
    (52.5, 35, 9.81280616),
    (40, 1609, 9.79673483),
]


@pytest.mark.parametrize(("latitude", "expected"), ON_ELLIPSOID)
def test_gravity_on_the_ellipsoid(latitude, expected):
    assert normal_gravity(latitude) == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(("latitude", "height", "expected"), WITH_HEIGHT)
def test_gravity_with_height(latitude, height, expected):
    assert normal_gravity(latitude, height) == pytest.approx(expected, abs=2e-7)


def closed_form(latitude_deg, height_m):
    """Normal gravity anywhere outside the ellipsoid, in ellipsoidal coordinates.

    Li, X. and Götze, H.-J. (2001), Ellipsoid, geoid, gravity, geodesy and geophysics, Geophysics 66,
    1660-1668, from Heiskanen and Moritz (1967), 2-66 and 2-67 (from memory).
    """
    phi = math.radians(latitude_deg)
    a, b, omega2 = gravity.SEMI_MAJOR_AXIS, gravity.SEMI_MINOR_AXIS, gravity.ANGULAR_VELOCITY**2
    focus = math.sqrt(a * a - b * b)
    reduced = math.atan2(b * math.sin(phi), a * math.cos(phi))
    z2 = (b * math.sin(reduced) + height_m * math.sin(phi)) ** 2
    r2 = (a * math.cos(reduced) + height_m * math.cos(phi)) ** 2
    total, difference = (r2 + z2) / focus**2, (r2 - z2) / focus**2
    cos2 = 0.5 + total / 2 - math.sqrt(0.25 + total**2 / 4 - difference / 2)
    sin2 = 1 - cos2
    u2 = r2 + z2 - focus**2 * cos2
    u = math.sqrt(u2)
    q0 = 0.5 * ((1 + 3 * b * b / focus**2) * math.atan(focus / b) - 3 * b / focus)
    q = 0.5 * ((1 + 3 * u2 / focus**2) * math.atan(focus / u) - 3 * u / focus)
    q_prime = 3 * (1 + u2 / focus**2) * (1 - u / focus * math.atan(focus / u)) - 1
    width = math.sqrt((u2 + focus**2 * sin2) / (u2 + focus**2))
    spin = omega2 * a * a * focus / (u2 + focus**2) * q_prime / q0 * (sin2 / 2 - 1 / 6)
    down = (gravity.GM / (u2 + focus**2) + spin - omega2 * cos2 * u) / width
    root = math.sqrt(u2 + focus**2)
    north = (omega2 * root - omega2 * a * a / root * q / q0) * math.sqrt(sin2 * cos2) / width
    return math.hypot(down, north)


@pytest.mark.parametrize(("latitude", "height", "expected"), WITH_HEIGHT)
def test_closed_form_of_this_test_agrees_with_the_published_values(latitude, height, expected):
    assert closed_form(latitude, height) == pytest.approx(expected, abs=2e-8)


@given(st.floats(-89.9, 89.9), st.floats(-500, 9000))
def test_height_formula_is_as_near_to_the_closed_form_as_it_says(latitude, height):
    tolerance = 2e-7 if height <= 1600 else 7e-7
    assert normal_gravity(latitude, height) == pytest.approx(closed_form(latitude, height), abs=tolerance)


def test_height_gradient_is_that_of_free_air():
    # 3.086e-6 /s2: textbook value, from memory.
    gradient = (normal_gravity(45, 0) - normal_gravity(45, 100)) / 100
    assert gradient == pytest.approx(3.086e-6, abs=1e-9)


@given(st.floats(0, 90), st.floats(-500, 9000))
def test_gravity_is_the_same_north_and_south(latitude, height):
    assert normal_gravity(latitude, height) == normal_gravity(-latitude, height)


@pytest.mark.parametrize("latitude", [90.01, -91, math.nan, math.inf])
def test_latitude_off_the_globe_is_refused(latitude):
    with pytest.raises(ValueError, match=rf"^latitude_deg must be -90 to 90 degrees, got {latitude} degrees$"):
        normal_gravity(latitude)


@pytest.mark.parametrize("height", [-501, 9001, math.nan])
def test_height_where_nobody_lives_is_refused(height):
    with pytest.raises(ValueError, match=rf"^height_m must be -500 to 9000 m, got {height} m$"):
        normal_gravity(45, height)


@pytest.mark.parametrize("height", [-500, 9000])
def test_height_at_its_limits_is_taken(height):
    assert 9.7 < normal_gravity(90, height) < 9.9
    assert 9.7 < normal_gravity(0, height) < 9.9


def test_weight_under_standard_gravity():
    assert weight(1.0, STANDARD_GRAVITY) == 9.80665


@pytest.mark.parametrize(("latitude", "error_pct"), [(0, 0.27), (90, -0.26)])
def test_standard_gravity_in_place_of_local(latitude, error_pct):
    # The error of calling a mass m times 9.80665 its weight, at the equator and at the pole.
    ratio = weight(10.0, STANDARD_GRAVITY) / weight(10.0, normal_gravity(latitude))
    assert 100 * (ratio - 1) == pytest.approx(error_pct, abs=0.005)


@pytest.mark.parametrize("mass", [0.0, -1.0, math.nan, math.inf])
def test_mass_that_is_none_is_refused(mass):
    with pytest.raises(ValueError, match=rf"^mass_kg must be positive, got {mass} kg$"):
        weight(mass, STANDARD_GRAVITY)


@pytest.mark.parametrize("value", [9.69, 98.1, 0.0, math.nan])
def test_gravity_not_of_this_planet_is_refused(value):
    with pytest.raises(ValueError, match=rf"^gravity must be 9\.7 to 9\.9 m/s2, got {value} m/s2$"):
        weight(5.0, value)


# Gravity here, as well as it is known


@pytest.mark.parametrize(
    ("known", "source", "value"),
    [
        ({}, "standard", STANDARD_GRAVITY),
        ({"latitude_deg": 52.1}, "latitude", normal_gravity(52.1)),
        ({"latitude_deg": 52.1, "height_m": 800.0}, "place", normal_gravity(52.1, 800.0)),
        ({"typed": 9.8125}, "typed", 9.8125),
    ],
)
def test_local_gravity_is_the_best_that_is_known(known, source, value):
    found = local_gravity(**known)
    assert (found.source, found.m_per_s2) == (source, value)


def test_tolerances_hold_what_was_left_out():
    standard, latitude = local_gravity(), local_gravity(latitude_deg=45.0)
    for extreme in (normal_gravity(0.0), normal_gravity(90.0)):
        assert abs(extreme / standard.m_per_s2 - 1.0) < 0.01 * standard.tolerance_pct
    # a height of 1600 m that nobody gave
    assert abs(normal_gravity(45.0, 1600.0) / latitude.m_per_s2 - 1.0) < 0.0101 * latitude.tolerance_pct
    # 9.81 stands for 9.805 to 9.815
    assert 0.0102 * local_gravity(typed=9.81).tolerance_pct > 0.005 / 9.81
