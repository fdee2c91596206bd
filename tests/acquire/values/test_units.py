import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.values.units import ForceUnit, from_newtons, to_newtons

# NIST SP 811 (2008), Appendix B.8: seven printed figures; exact ones by the definitions of kgf and lbf.
PRINTED = {ForceUnit.KILOGRAM_FORCE: 9.80665, ForceUnit.POUND_FORCE: 4.448222}


@pytest.mark.parametrize(("unit", "factor"), PRINTED.items())
def test_factor_agrees_with_the_seven_figures_of_the_guide(unit, factor):
    assert float(f"{unit.newtons:.7g}") == factor


def test_pound_force_is_exactly_a_pound_under_standard_gravity():
    # 0.45359237 kg x 9.80665 m/s2 in whole numbers, which floats would round.
    assert 45359237 * 980665 == 44482216152605
    assert ForceUnit.POUND_FORCE.newtons == 4.4482216152605


def test_kilogram_force_is_exactly_standard_gravity():
    assert to_newtons(1.0, ForceUnit.KILOGRAM_FORCE) == 9.80665


def test_newtons_stay_as_they_are():
    assert from_newtons(412.25, ForceUnit.NEWTON) == to_newtons(412.25, ForceUnit.NEWTON) == 412.25


@given(st.floats(-1e6, 1e6), st.sampled_from(ForceUnit))
def test_force_there_and_back_is_the_same(force, unit):
    assert to_newtons(from_newtons(force, unit), unit) == pytest.approx(force, rel=1e-15, abs=1e-300)


def test_array_keeps_its_shape_and_its_nan():
    pounds = from_newtons(np.array([[4.4482216152605, np.nan]]), ForceUnit.POUND_FORCE)
    assert pounds.shape == (1, 2)
    assert pounds[0, 0] == 1.0
    assert np.isnan(pounds[0, 1])


@pytest.mark.parametrize("unit", ForceUnit)
def test_symbol_is_read_back(unit):
    assert ForceUnit.parse(unit.symbol) is unit
    assert ForceUnit.parse(f" {unit.symbol.upper()} ") is unit


@pytest.mark.parametrize("text", ["", "kg", "lb", "newton"])
def test_unknown_symbol_is_refused_with_the_known_ones(text):
    with pytest.raises(ValueError, match=rf"^unit of force must be N, kgf or lbf, got '{text}'$"):
        ForceUnit.parse(text)
