"""Loss is judged by the count over a span: jitter is no loss, and loss is found among jitter. Invented stamps."""

import numpy as np
import pytest

from acquire.storage.csv_trace import read_csv_trace
from acquire.values.records import Trace
from acquire.values.time_stamps import are_shared, missing_samples, sample_period, spread

JITTERS = {
    "even": lambda chance, n: chance.uniform(-0.35, 0.35, n),
    "strong": lambda chance, n: chance.uniform(-0.45, 0.45, n),
    "normal": lambda chance, n: chance.normal(0.0, 0.3, n),
    "late": lambda chance, n: chance.exponential(0.3, n),
}


def stamps(kind, kept, rate, seed):
    """Return the stamps of the samples that are kept, each early or late by part of a period."""
    chance = np.random.default_rng(seed)
    moved = np.sort(np.arange(len(kept)) + JITTERS[kind](chance, len(kept)))
    return (np.maximum.accumulate(moved) + 1e-7 * np.arange(len(kept)))[kept] / rate


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("rate", [40.0, 100.0, 500.0])
@pytest.mark.parametrize("kind", JITTERS)
def test_jitter_is_no_loss(kind, rate, seed):
    time = stamps(kind, np.ones(round(8 * rate), dtype=bool), rate, seed)
    assert missing_samples(time).number.sum() <= (0 if kind == "even" else 1)
    assert sample_period(time) == pytest.approx(1.0 / rate, rel=0.01)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("lost", [1, 3, 12, 100])
@pytest.mark.parametrize("kind", JITTERS)
def test_gap_among_jitter_is_found_where_it_is(kind, lost, seed):
    kept = np.ones(800, dtype=bool)
    kept[400 : 400 + lost] = False
    found = missing_samples(stamps(kind, kept, 100.0, seed))
    assert abs(int(found.number.sum()) - lost) <= 1
    largest = int(np.argmax(found.number))
    assert found.before[largest] == pytest.approx(400, abs=4)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("kind", JITTERS)
def test_scattered_loss_among_jitter_is_counted(kind, seed):
    kept = np.random.default_rng(100 + seed).random(1600) >= 0.02
    kept[:10] = kept[-10:] = True
    true = np.count_nonzero(~kept)
    assert missing_samples(stamps(kind, kept, 200.0, seed)).number.sum() == pytest.approx(true, abs=0.15 * true + 2)


def test_loss_without_jitter_is_exact():
    kept = np.random.default_rng(3).random(5000) >= 0.1
    kept[[0, -1]] = True
    time = np.arange(5000)[kept] / 1000.0
    found = missing_samples(time)
    assert found.number.sum() == np.count_nonzero(~kept)
    assert np.array_equal(
        np.arange(len(time)) + np.cumsum(np.bincount(found.before, found.number, len(time))), np.flatnonzero(kept)
    )


def test_one_late_stamp_is_no_loss_and_the_trace_has_no_gap():
    time = np.arange(300) / 100.0
    time[150] += 0.008
    assert Trace.from_samples(time, np.ones(300)).lost == 0


@pytest.mark.parametrize("size", [2, 4, 10, 20])
@pytest.mark.parametrize("jitter", [0.0, 0.3])
def test_packets_that_share_a_time_are_spread_evenly(size, jitter):
    packets = np.arange(60)
    late = jitter * np.random.default_rng(size).uniform(0.0, 1.0, 60)
    time = spread(np.repeat((packets + late) * size / 200.0, size))
    assert np.diff(time) == pytest.approx(1.0 / 200.0, rel=0.02)


@pytest.mark.parametrize("lost", [1, 3])
def test_packet_that_is_lost_leaves_its_gap(lost):
    packets = np.delete(np.arange(60), np.arange(30, 30 + lost))
    time = spread(np.repeat(packets * 0.05, 10))
    found = missing_samples(time)
    assert (found.before.tolist(), found.number.tolist()) == ([300], [10 * lost])


@pytest.mark.parametrize(
    ("time", "shared"),
    [
        (np.repeat(np.arange(3.0), 2), True),
        (np.repeat(np.arange(2.0), 5), False),  # from two packets no period is known
        (np.array([0.0, 0.01, 0.01, 0.02, 0.03]), False),  # one time that is repeated is a mistake
        (np.arange(9.0), False),
    ],
)
def test_what_is_taken_for_packets(time, shared):
    assert are_shared(time) is shared


@pytest.mark.parametrize("comment", ["", "  # odd"])
def test_file_of_packets_is_read_by_both_readers_alike(tmp_path, comment):
    path = tmp_path / "radio.csv"
    lines = [f"{k // 5 * 0.05:.2f},{k}.5" for k in range(100)]
    lines[7] += comment
    path.write_text("time_s,force_n\n" + "\n".join(lines) + "\n")
    found = read_csv_trace(path)
    assert found.time == pytest.approx(np.arange(100) * 0.01)
    assert found.force[-1] == 99.5
