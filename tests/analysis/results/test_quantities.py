"""Forces in the units of publications."""

import pytest

from analysis.results.quantities import Unit, in_unit

# 196.133 N is 20 kgf exactly (NIST SP 811, B.8: 9.80665 N/kgf); lbf: 4.4482216152605 N
CASES = [
    (Unit.NEWTON, 196.133),
    (Unit.KILOGRAM_FORCE, 20.0),
    (Unit.POUND_FORCE, 44.0924524),
    (Unit.NEWTON_PER_KG, 196.133 / 80.0),
    (Unit.PERCENT_BODY_WEIGHT, 25.0),
    (Unit.NEWTON_METRE, 58.8399),
    (Unit.NEWTON_METRE_PER_KG, 58.8399 / 80.0),
]


@pytest.mark.parametrize(("unit", "expected"), CASES)
def test_force_in_each_unit(unit, expected):
    assert in_unit(196.133, unit, lever_arm_m=0.3, mass_kg=80.0) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("unit", Unit)
def test_unit_asks_for_exactly_what_it_needs(unit):
    known = {"lever_arm_m": 0.3 if unit.needs_lever_arm else None, "mass_kg": 80.0 if unit.needs_mass else None}
    assert in_unit(100.0, unit, **known) == in_unit(100.0, unit, lever_arm_m=0.3, mass_kg=80.0)
    for name in (name for name, value in known.items() if value):
        with pytest.raises(ValueError, match=f"{name} must be positive for {unit}, got None"):
            in_unit(100.0, unit, **{**known, name: None})


def test_mass_of_nothing_is_refused():
    with pytest.raises(ValueError, match=r"mass_kg must be positive for N/kg, got 0\.0 kg"):
        in_unit(100.0, Unit.NEWTON_PER_KG, mass_kg=0.0)
