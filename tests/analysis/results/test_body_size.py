"""Force and torque by the size of the body, by hand."""

import pytest

from analysis.results.body_size import relative_to_body


def test_exponent_can_be_chosen():
    # 64^0.5 = 8, 64^1 = 64, 64^0 = 1
    for exponent, expected in ((0.5, 40.0), (1.0, 5.0), (0.0, 320.0)):
        found = relative_to_body(320.0, None, mass_kg=64.0, height_m=None, gravity_m_s2=9.81, exponent=exponent)
        assert (found.n_per_kg_b, found.exponent) == (pytest.approx(expected), exponent)
    assert relative_to_body(320.0, None, mass_kg=None, height_m=None, gravity_m_s2=9.81).n_per_kg_b is None


def test_each_quantity_by_hand():
    found = relative_to_body(300.0, 90.0, mass_kg=75.0, height_m=1.8, gravity_m_s2=10.0)
    assert found.n_per_kg == 4.0
    assert found.pct_body_weight == 40.0
    assert found.n_per_kg_067 == pytest.approx(300.0 / 18.0423, rel=1e-5)  # 75^0.67 = e^(0.67 ln 75)
    assert found.nm_per_kg == 1.2
    assert found.nm_per_kg_m == pytest.approx(90.0 / 135.0)


def test_what_is_not_known_leaves_what_does_not_need_it():
    no_torque = relative_to_body(300.0, None, mass_kg=75.0, height_m=1.8, gravity_m_s2=10.0)
    assert (no_torque.n_per_kg, no_torque.nm_per_kg, no_torque.nm_per_kg_m) == (4.0, None, None)
    no_height = relative_to_body(300.0, 90.0, mass_kg=75.0, height_m=None, gravity_m_s2=10.0)
    assert (no_height.nm_per_kg, no_height.nm_per_kg_m) == (1.2, None)
    no_mass = relative_to_body(300.0, 90.0, mass_kg=None, height_m=1.8, gravity_m_s2=10.0)
    assert set(map(no_mass.__getattribute__, no_mass.__struct_fields__)) == {None}


@pytest.mark.parametrize(("mass", "height"), [(0.0, 1.8), (-1.0, 1.8), (75.0, 0.0), (None, -1.8), (float("nan"), 1.8)])
def test_size_of_nothing_is_refused(mass, height):
    with pytest.raises(ValueError, match="must be above 0"):
        relative_to_body(300.0, 90.0, mass_kg=mass, height_m=height, gravity_m_s2=10.0)
