"""Sensors that nobody ships: what their lines are like, and what is made of them."""

import numpy as np
import pytest
from pushed import BEGAN_S, PUSH, QUIET, as_file, asked_from, captured, dropping, in_bursts, text_frames

from acquire.discovery import Asked, Capture, Confidence, Known, Task, discover
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.values.units import ForceUnit

KGF = 9.80665
"""N, 3rd General Conference on Weights and Measures, 1901."""


def counts(row):
    return f"{row.counts}"


def numbered(row):
    return f"{row.number},{row.counts}"


def stamped(row, separator=","):
    return f"{round(row.seconds * 1e3) + 104_250}{separator}{row.counts}"


def newtons(row):
    return f"{row.newtons:.2f}"


def found(write, *, every_s=0.0, told=True, **options):
    known = {key: options.pop(key) for key in ("rate_known", "unit", "rated_force_n") if key in options}
    if "rate_known" in known:
        known["rate_hz"] = known.pop("rate_known")
    return discover(captured(text_frames(write, **options), every_s=every_s, told=told), Known(**known))


@pytest.mark.parametrize("separator", [",", ";", ":", "|", " ", "\t"])
def test_every_separator_is_told_apart(separator):
    profile = found(lambda row: stamped(row, separator)).profile
    assert (profile.columns, profile.separator) == (("ms", "counts"), separator)


CLOCKS = {
    "ms": ("ms", lambda row: round(row.seconds * 1e3)),
    "ms at its turn": ("ms", lambda row: (round(row.seconds * 1e3) + 2**32 - 4000) % 2**32),
    "us": ("us", lambda row: round(row.seconds * 1e6)),
    "us at its turn": ("us", lambda row: (round(row.seconds * 1e6) + 2**32 - 5_000_000) % 2**32),
    "s": ("s", lambda row: f"{row.seconds + 12.5:.3f}"),
    "s since 1970": ("s", lambda row: f"{row.seconds + 1712345678.25:.6f}"),
    "ms since 1970": ("-", lambda row: round(row.seconds * 1e3) + 1712345678250),
    "ms with a point": ("-", lambda row: f"{row.seconds * 1e3:.2f}"),
    "whole seconds": ("-", lambda row: int(row.seconds) + 1_712_345_678),
    "hundredths": ("-", lambda row: round(row.seconds * 1e2)),
    "time of day": ("-", lambda row: f"12:03:{int(row.seconds):02d}"),
    "line number": ("seq", lambda row: row.number),
    "line number of 8 bits": ("seq", lambda row: row.number % 256),
    "line number of 16 bits": ("seq", lambda row: (row.number + 65_000) % 65_536),
    "line number to 99": ("-", lambda row: row.number % 100),
    "line number from 1": ("-", lambda row: 1 + row.number % 255),
    "line number beyond 32 bits": ("-", lambda row: row.number + 2**32),
}


@pytest.mark.parametrize("rate_hz", [80.0, 320.0])
@pytest.mark.parametrize(("name", "write"), CLOCKS.values(), ids=CLOCKS)
def test_what_counts_is_named_by_how_it_goes_on(name, write, rate_hz):
    proposal = found(lambda row: f"{write(row)},{row.counts}", rate_hz=rate_hz)
    assert proposal.profile.columns == (name, "counts")
    assert proposal.profile.rate_hz == rate_hz
    assert dict(proposal.measured)["lost samples"] == "0"


@pytest.mark.parametrize(
    ("write", "bits", "confidence"),
    [
        (CLOCKS["line number of 8 bits"][1], 8, Confidence.SURE),
        (CLOCKS["line number of 16 bits"][1], 16, Confidence.SURE),
        (CLOCKS["line number"][1], 16, Confidence.LIKELY),
        (lambda row: row.number + 70_000, 32, Confidence.LIKELY),
    ],
)
def test_width_of_a_line_number_shows_where_it_turns_over(write, bits, confidence):
    finding = found(lambda row: f"{write(row)},{row.counts}").finding("sequence_bits")
    assert (finding.value, finding.confidence) == (bits, confidence)


def test_line_number_of_a_kilohertz_could_be_milliseconds_and_is_said_to_be():
    proposal = found(numbered, rate_hz=1000.0)
    assert proposal.profile.columns == ("ms", "counts")
    assert proposal.finding("columns").confidence is Confidence.LIKELY
    assert "milliseconds, or a line number" in proposal.finding("columns").why


@pytest.mark.slow
@pytest.mark.parametrize("rate_hz", [10.0, 80.0, 320.0, 800.0])
@pytest.mark.parametrize("every_s", [0.0, 0.03, 0.25])
def test_rate_does_not_depend_on_bursts(rate_hz, every_s):
    for write in (counts, numbered, stamped):
        proposal = found(write, rate_hz=rate_hz, every_s=every_s)
        assert proposal.profile.rate_hz == rate_hz


@pytest.mark.parametrize(("rate_hz", "written"), [(79.3, 80.0), (93.0, 93.0), (11.3, 11.3), (318.0, 320.0)])
def test_rate_is_the_usual_one_only_where_it_is_near(rate_hz, written):
    assert found(counts, rate_hz=rate_hz).profile.rate_hz == pytest.approx(written, rel=1e-3)


def test_delays_that_vary_leave_the_rate_within_a_few_parts_in_a_thousand():
    chance = np.random.default_rng(2)
    late = 0.0
    chunks = []
    for due, data in text_frames(counts, rate_hz=93.0):
        late = max(due + chance.exponential(0.02), late)
        chunks.append((BEGAN_S + late, data))
    asked = asked_from(BEGAN_S, QUIET, PUSH)
    assert discover(Capture.of(chunks, asked=asked)).profile.rate_hz == pytest.approx(93.0, rel=5e-3)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("zero", [0, 123_456, -4_000_000])
def test_sign_and_zero_whatever_the_line_end(end, sign, zero):
    profile = found(counts, end=end, sign=sign, zero=zero).profile
    assert np.sign(profile.counts_per_newton) == sign
    assert profile.zero_counts == pytest.approx(zero, abs=0.05 * 800.0)


@pytest.mark.parametrize("told", [True, False])
def test_noise_of_a_push_s_thirtieth_hides_nothing(told):
    proposal = found(stamped, noise_n=4.0, told=told)
    assert proposal.profile.columns == ("ms", "counts")
    assert proposal.push_seen


@pytest.mark.parametrize(
    "header",
    [["Load cell on a bridge"], ["# version 3", "ms,counts"], ["", "", "ready"], ["1,2,3,4", "5"]],
)
def test_header_lines_are_passed_over(header):
    assert found(stamped, header=header).profile.columns == ("ms", "counts")


@pytest.mark.parametrize("write", [counts, numbered, stamped])
@pytest.mark.parametrize("share", [0.01, 0.05])
def test_dropped_bytes_are_damage_and_no_other_sensor(write, share):
    frames = text_frames(write)
    clean, damaged = discover(captured(frames)).profile, discover(captured(dropping(frames, share)))
    assert damaged.profile.columns == clean.columns
    assert damaged.profile.rate_hz == clean.rate_hz
    assert damaged.profile.count_bits == 24
    assert damaged.profile.zero_counts == pytest.approx(clean.zero_counts, abs=10.0)


def test_columns_that_are_no_force_are_ignored_and_said_why():
    chance = np.random.default_rng(5)

    def write(row):
        temperature = f"{21.5 + 0.001 * row.seconds + chance.normal(0.0, 0.02):.2f}"
        return f"{row.number},{round(row.seconds * 1e3)},0,{temperature},{row.counts},{row.random},{row.random:02X}h"

    proposal = found(write)
    assert proposal.profile.columns == ("seq", "ms", "-", "-", "counts", "-", "-")
    why = proposal.finding("columns").why
    for told in ("3: always 0", "4: does not answer a push", "5: the force", "7: no number"):
        assert told in why


def test_of_two_cells_the_one_that_is_pushed_is_taken():
    def write(row):
        return f"{row.counts // 12 + 40 * row.random},{row.counts}"

    assert found(write).profile.columns == ("-", "counts")


def test_second_clock_is_not_needed():
    proposal = found(lambda row: f"{round(row.seconds * 1e3)},{round(row.seconds * 1e6)},{row.counts}")
    assert proposal.profile.columns == ("-", "us", "counts")
    assert "another ms, not needed" in proposal.finding("columns").why


# what the numbers mean


def test_numbers_with_a_point_are_of_an_unknown_unit():
    profile = found(newtons).profile
    assert (profile.columns, profile.counts_per_newton, profile.sensitivity) == (("value",), 1.0, "unknown")


@pytest.mark.parametrize(
    ("word", "unit", "column", "size"),
    [
        ("N", 1.0, "n", 1.0),
        ("kg", KGF, "value", 1 / KGF),
        ("kgf", KGF, "value", 1 / KGF),
        ("lb", 4.4482216152605, "value", 1 / 4.4482216152605),  # NIST SP 811, Appendix B.8
    ],
)
def test_unit_is_read_beside_the_number(word, unit, column, size):
    proposal = found(lambda row: f"Force: {row.newtons / unit:.3f} {word}", sign=1)
    assert proposal.profile.columns == ("-", column, "-")
    assert proposal.profile.counts_per_newton == pytest.approx(size)
    assert proposal.profile.sensitivity == "nominal"
    assert proposal.profile.separator == " "


def test_unit_may_be_told():
    proposal = found(lambda row: f"{row.newtons / KGF:.3f}", unit=ForceUnit.KILOGRAM_FORCE, sign=-1)
    assert proposal.profile.columns == ("value",)
    assert proposal.profile.counts_per_newton == pytest.approx(-1 / KGF)


def test_counts_are_taken_before_numbers_with_a_point_and_scaled_by_them():
    proposal = found(lambda row: f"{row.newtons:.2f},{row.counts},N")
    assert proposal.profile.columns == ("value", "counts", "-")
    unknown = found(lambda row: f"{row.newtons:.2f},{row.counts}").profile
    assert unknown.counts_per_newton == pytest.approx(800.0, rel=0.01)
    assert unknown.sensitivity == "unknown"


def test_unit_beside_the_number_with_a_point_gives_the_counts_their_sensitivity():
    profile = found(lambda row: f"{row.counts},{row.newtons:.2f},N").profile
    assert profile.counts_per_newton == pytest.approx(800.0, rel=0.01)
    assert profile.sensitivity == "nominal"


def weighed(write, load_n, *, sign=1):
    """A quiet stretch, a push, and then a weight that hangs still."""
    frames = text_frames(write, sign=sign)
    after = [(9.5 + row / 80.0, (write(_Hung(row, load_n * sign)) + "\r\n").encode()) for row in range(240)]
    asked = asked_from(BEGAN_S, QUIET, PUSH, Asked(Task.WEIGHT, 10.0, 12.0, load_n))
    return Capture.of(in_bursts(frames + after, 0.0), asked=asked)


class _Hung:
    def __init__(self, number, newtons):
        self.number, self.newtons, self.counts = number, newtons, round(newtons * 800.0)
        self.seconds = 9.5 + number / 80.0


@pytest.mark.parametrize("sign", [1, -1])
def test_known_weight_gives_the_sensitivity(sign):
    proposal = discover(weighed(counts, 5.0 * KGF, sign=sign))
    assert proposal.profile.counts_per_newton == pytest.approx(sign * 800.0, rel=2e-3)
    assert proposal.profile.sensitivity == "nominal"
    finding = proposal.finding("counts_per_newton")
    assert finding.confidence is Confidence.LIKELY
    assert "one weight only" in finding.why


@pytest.mark.parametrize(
    ("unit", "column", "size"), [(1.0, "n", 1.0), (KGF, "value", 1 / KGF), (0.37, "value", 1 / 0.37)]
)
def test_known_weight_gives_the_unit_of_numbers_with_a_point(unit, column, size):
    proposal = discover(weighed(lambda row: f"{row.newtons / unit:.4f}", 49.03))
    assert proposal.profile.columns == (column,)
    assert proposal.profile.counts_per_newton == pytest.approx(size, rel=2e-3)
    assert proposal.profile.sensitivity == "nominal"


def test_guessed_sensitivity_leaves_the_rated_force_within_the_converter():
    profile = found(counts, counts_per_newton=40_000.0).profile
    assert profile.rated_force_n * profile.counts_per_newton < 2**23
    assert found(counts, rated_force_n=220.0).profile.rated_force_n == 220.0


def test_rated_force_that_nobody_told_clips_nothing_below_the_converters_end():
    guessed = found(counts, counts_per_newton=800.0).profile
    assert (guessed.rating, guessed.rated_force_n) == ("unknown", 500.0)
    nominal = guessed.nominal_calibration()
    strong = np.array([600.0 * guessed.counts_per_newton + guessed.zero_counts, 2**23 - 1])
    assert nominal.clipped(strong).tolist() == [False, True]
    told = found(counts, counts_per_newton=800.0, rated_force_n=500.0).profile
    assert (told.rating, told.nominal_calibration().clipped(strong).tolist()) == ("stated", [True, True])


@pytest.mark.parametrize(("size", "bits"), [(10.0, 24), (800.0, 24), (100_000.0, 32)])
def test_width_of_the_converter_is_one_that_fits(size, bits):
    assert found(counts, counts_per_newton=size).profile.count_bits == bits


@pytest.mark.parametrize("bits", [16, 24])
def test_converter_that_stops_shows_its_width(bits):
    top = 2 ** (bits - 1) - 1
    proposal = found(lambda row: f"{min(row.counts, top)}", counts_per_newton=top / 100.0)
    finding = proposal.finding("count_bits")
    assert (finding.value, finding.confidence) == (bits, Confidence.SURE)


def test_small_converter_that_stops_is_told():
    proposal = found(lambda row: f"{min(1023, max(0, row.counts))}", counts_per_newton=10.0, zero=20)
    assert any("It stops at 1023" in sentence for sentence in proposal.advice)


# what is told besides


def test_without_a_push_the_only_column_is_taken_and_the_sign_is_a_guess():
    proposal = found(counts, push_n=0.0)
    assert not proposal.push_seen
    assert any("No push was seen" in sentence for sentence in proposal.advice)
    assert "the sign is a guess" in proposal.finding("counts_per_newton").why
    assert proposal.finding("columns").confidence is Confidence.LIKELY


def test_without_a_push_one_of_two_columns_is_a_guess():
    proposal = found(lambda row: f"{row.counts},{row.random}", push_n=0.0)
    assert proposal.finding("columns").confidence is Confidence.GUESS


def test_sensor_that_never_changes_is_still_described():
    proposal = found(lambda _: "0")
    assert proposal.profile.columns == ("counts",)
    assert not proposal.push_seen


def test_weak_push_is_told():
    proposal = found(counts, push_n=0.6, noise_n=0.05)
    assert any("hardly more than the noise" in sentence for sentence in proposal.advice)


def test_drift_is_told():
    proposal = found(lambda row: f"{row.counts + round(4000.0 * row.seconds)}")
    assert any("drifted" in sentence for sentence in proposal.advice)
    assert proposal.finding("zero_counts").confidence is Confidence.LIKELY


def test_damage_is_told():
    proposal = discover(captured(dropping(text_frames(stamped), 0.15)))
    assert any("lost: check the cable" in sentence for sentence in proposal.advice)


def test_full_line_is_told():
    proposal = found(stamped, rate_hz=1000.0)
    assert any("full at 115200 bit/s" in sentence for sentence in proposal.advice)


def test_clock_that_goes_wrong_is_told():
    proposal = found(lambda row: f"{round(row.seconds * 1060.0)},{row.counts}")
    assert proposal.profile.columns == ("ms", "counts")
    assert any("one of them is off" in sentence for sentence in proposal.advice)


def test_push_that_is_not_let_go_is_told_in_the_measures():
    frames = [frame for frame in text_frames(counts) if frame[0] < 7.8]
    assert "not let go" in dict(discover(captured(frames)).measured)["push"]


def test_knock_is_no_push():
    def write(row):
        return f"{row.random % 20 + (90_000 if 5.0 < row.seconds < 5.2 else 0)}"

    assert not found(write).push_seen


def test_longer_push_the_other_way_is_the_push():
    def write(row):
        knock = 3000 if 4.6 < row.seconds < 5.0 else 0
        return f"{row.random % 20 + knock - (90_000 if 5.2 < row.seconds < 7.5 else 0)}"

    assert found(write).profile.counts_per_newton < 0


# what cannot be told


def test_file_without_a_clock_needs_the_rate():
    frames = text_frames(counts)
    with pytest.raises(DiscoveryError, match="give it with --rate") as caught:
        discover(as_file(frames))
    assert caught.value.reason is DiscoveryFailure.NO_RATE
    proposal = discover(as_file(frames), Known(rate_hz=80.0))
    assert proposal.finding("rate_hz").confidence is Confidence.GIVEN


REFUSED = {
    "decimal comma": (lambda row: f"{row.newtons:.2f}".replace(".", ","), "seems to be a decimal comma"),
    "decimal comma beside a clock": (
        lambda row: f"{row.number};{row.newtons:.2f}".replace(".", ","),
        "seems to be a decimal comma",
    ),
    "letters": (lambda row: f"F={row.newtons:.2f}N", "letters stand right at the numbers"),
    "blanks": (lambda row: f"  {row.counts:8d} ,", "blanks stand around the numbers"),
    "words": (lambda row: f"ready ({row.counts})", "no column is a plain number"),
    "only a counter": (lambda row: f"{row.number}", "no column of numbers can be a force"),
}


@pytest.mark.parametrize(("write", "why"), REFUSED.values(), ids=REFUSED)
def test_text_that_holds_no_force_is_refused_with_what_it_looks_like(write, why):
    with pytest.raises(DiscoveryError, match=why) as caught:
        found(write)
    assert caught.value.reason is DiscoveryFailure.NO_NUMBERS


def test_padded_counts_are_no_decimal_comma():
    assert found(lambda row: f"{round(row.seconds * 1e3)},{row.counts + 50_000:07d}").profile.columns == (
        "ms",
        "counts",
    )
