"""The wanted band."""

import numpy as np
import pytest

from analysis.trial.protocol import load_protocol
from ui.model.stage.band import top_of_scale, wanted_band

PROTOCOL = load_protocol()


def test_before_the_first_trial_only_the_times_are_known():
    band = wanted_band(PROTOCOL, [])
    assert (band.level, band.ramp_end, band.hold_end) == (None, (1.0, 2.0), 7.0)
    assert np.isnan(band.high).all()


def test_level_is_the_best_trial_and_its_ideal_effort_lies_within():
    band = wanted_band(PROTOCOL, [180.0, 200.0])
    assert band.level == 200.0
    for ramp in (1.0, 1.5, 2.0):
        time = np.linspace(0.0, band.hold_end, 200)
        ideal = 200.0 * np.clip(time / ramp, 0.0, 1.0)
        assert (ideal <= np.interp(time, band.time, band.high) + 1e-9).all()
        assert (ideal >= np.interp(time, band.time, band.low) - 1e-9).all()


@pytest.mark.parametrize(("level", "highest"), [(None, 5.0), (300.0, 0.0), (300.0, 900.0), (900.0, 20.0)])
def test_scale_leaves_room_above_both(level, highest):
    top = top_of_scale(level, highest)
    assert top >= 1.1 * max(level or 0.0, highest)
