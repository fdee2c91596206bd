"""A simulated load cell: what is put in is what comes out."""

import itertools

import msgspec
import numpy as np
import pytest

from acquire.decoders import decoder_for
from acquire.sensor.profile import load_profile
from acquire.simulation.cell import HANG_S, TYPICAL, Cell, LoadedDevice
from acquire.simulation.device import COMMAND_MAX, Player, load_command
from acquire.simulation.program import main

PROFILE = msgspec.structs.replace(load_profile("packets-1k"), start="", stop="")


class Bench:
    """A device that is played for as long as the test wants."""

    def __init__(self, **cell):
        self.device = LoadedDevice(PROFILE, Cell(**{"swing_pct": 0.0, "full_n": 200.0, **cell}))
        self._frames = self.device.frames()
        self._decoder = decoder_for(PROFILE)

    def play(self, seconds):
        """Return the newtons of the next seconds, by the nominal sensitivity."""
        frames = itertools.islice(self._frames, round(seconds * PROFILE.rate_hz / 10))
        counts = [event.counts for frame in frames for event in self._decoder.feed(frame.data)]
        return np.concatenate(counts) / PROFILE.counts_per_newton

    def rest(self, newtons, seconds=2.0):
        """Hang a load and return what is read at the end of some seconds."""
        self.device.load(newtons)
        return float(self.play(seconds)[-200:].mean())


COUNT_N = 0.5 / PROFILE.counts_per_newton


def test_perfect_cell_reads_what_hangs_on_it():
    bench = Bench()
    assert [bench.rest(n) for n in (0.0, 50.0, 150.0, 0.0)] == pytest.approx([0.0, 50.0, 150.0, 0.0], abs=COUNT_N)


def test_load_takes_a_hand_s_time_and_then_swings():
    bench = Bench(swing_pct=10.0)
    bench.play(0.01)
    bench.device.load(100.0)
    force = bench.play(4.0)
    at = round(HANG_S * 1000)
    assert force[at // 2] == pytest.approx(50.0, abs=3.0)
    assert 105.0 < force[at:].max() < 110.0
    assert force[-100:] == pytest.approx(100.0, abs=0.05)


def test_bow_is_the_error_from_the_terminal_line():
    bench = Bench(bow_n=0.4)
    zero, half, full = (bench.rest(n) for n in (0.0, 100.0, 200.0))
    assert half - (zero + full) / 2.0 == pytest.approx(0.4, abs=COUNT_N)


def test_hysteresis_shows_as_the_load_falls():
    bench = Bench(hysteresis_n=0.3)
    up, top, down, zero = (bench.rest(n) for n in (100.0, 200.0, 100.0, 0.0))
    assert (up, top, zero) == pytest.approx((100.0, 200.0, 0.0), abs=COUNT_N)
    assert down - up == pytest.approx(0.3, abs=COUNT_N)


def test_hysteresis_of_a_smaller_excursion_is_smaller():
    bench = Bench(hysteresis_n=0.3)
    up, _, down = (bench.rest(n) for n in (50.0, 100.0, 50.0))
    assert down - up == pytest.approx(0.15, abs=2 * COUNT_N)


def test_creep_comes_and_goes_with_its_time_constant():
    bench = Bench(creep_pct=0.5, creep_s=5.0)
    bench.play(0.01)
    bench.device.load(200.0)
    held = bench.play(15.0)
    assert held[4999] == pytest.approx(200.0 + 1.0 * (1.0 - np.exp(-1.0)), abs=0.01)
    assert held[-1] == pytest.approx(200.0 + 1.0 * (1.0 - np.exp(-3.0)), abs=0.01)
    bench.device.load(0.0)
    back = bench.play(5.0)
    assert back[-1] == pytest.approx((1.0 - np.exp(-3.0)) * np.exp(-1.0), abs=0.01)


def test_each_excursion_reads_another_value():
    bench = Bench(repeatability_n=0.2)
    first, _, second = (bench.rest(n) for n in (100.0, 0.0, 100.0))
    assert first - second == pytest.approx(0.2, abs=COUNT_N)


def test_zero_warms_up_and_drifts():
    bench = Bench(zero_n=2.0, warm_up_n=1.0, warm_up_s=10.0, drift_n_per_min=6.0)
    force = bench.play(20.0)
    assert force[0] == pytest.approx(3.0, abs=0.001)
    assert force[-1] == pytest.approx(2.0 + np.exp(-2.0) + 2.0, abs=0.002)


def test_sensitivity_is_more_counts_a_newton():
    assert Bench(sensitivity_pct=1.5).rest(100.0) == pytest.approx(101.5, abs=COUNT_N)


def test_noise_and_hum_have_their_size():
    force = Bench(noise_n=0.3).play(20.0)
    assert force.std() == pytest.approx(0.3, rel=0.03)
    hum = Bench(hum_n=0.3, hum_hz=60.0).play(10.0)
    assert hum.std() == pytest.approx(0.3, rel=0.01)
    assert np.argmax(np.abs(np.fft.rfft(hum))) == 600


def test_unrest_never_dies_out():
    bench = Bench(unrest_n=2.0)
    bench.rest(100.0, 10.0)
    assert np.ptp(bench.play(2.0)) == pytest.approx(4.0, abs=0.01)
    assert bench.rest(0.0) == pytest.approx(0.0, abs=COUNT_N)


def test_converter_clips():
    force = Bench().rest(5000.0)
    assert force == pytest.approx(((1 << 23) - 1) / PROFILE.counts_per_newton, abs=0.001)


# the word that hangs a load


class Heard(LoadedDevice):
    """Notes the loads it was told of."""

    def __init__(self):
        super().__init__(PROFILE, Cell())
        self.loads = []

    def load(self, newtons):
        self.loads.append(newtons)


@pytest.mark.parametrize("cut", range(1, 12))
def test_loads_are_heard_however_the_bytes_are_cut(cut):
    device = Heard()
    player = Player(device)
    sent = load_command(49.03325) + load_command(0.0) + b"go\n" + load_command(1e-3)
    for at in range(0, len(sent), cut):
        player.receive(sent[at : at + cut], 0.0)
    assert device.loads == [49.03325, 0.0, 0.001]


@pytest.mark.parametrize("word", [b"load \n", b"load five\n", b"load 1e999\n", b"load --1\n", b"load 5", b"xload\n"])
def test_what_is_no_load_hangs_nothing(word):
    device = Heard()
    player = Player(device)
    player.receive(word + b"?" * COMMAND_MAX, 0.0)
    player.receive(load_command(7.0), 0.0)
    assert device.loads == [7.0]


def test_same_load_again_changes_nothing():
    bench = Bench(creep_pct=0.5, creep_s=5.0)
    bench.rest(200.0, 10.0)
    before = bench.play(0.01)[-1]
    bench.device.load(200.0)
    assert bench.play(0.01)[-1] == pytest.approx(before, abs=0.01)


def test_typical_cell_is_one_to_be_content_with():
    assert Cell() != TYPICAL
    assert msgspec.json.decode(msgspec.json.encode(TYPICAL), type=Cell) == TYPICAL


def test_cell_file_that_is_wrong_is_told(tmp_path, capsys):
    (tmp_path / "cell.json").write_text('{"creep": 5}')
    assert main(["--profile", "simulated", "--cell", str(tmp_path / "cell.json")]) == 1
    assert "unknown field `creep`" in capsys.readouterr().err
