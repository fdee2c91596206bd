"""Which frames go on, which wait for the next one to tell, and which are held out."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from timed import packet, profile, single

from acquire.decoders import Damage, Lines, Packets, Reason
from acquire.timing.sequence_gaps import BEHIND_FRAMES, Late, SequenceGaps

BAD_LINE = Damage(Reason.NOT_A_NUMBER, 9, 1)
BAD_PACKET = Damage(Reason.BAD_CHECKSUM, 40, 0)


def gaps(*columns, **changes):
    return SequenceGaps(profile(columns, **changes))


def numbered(*numbers):
    return Lines([0] * len(numbers), list(numbers), None)


def stamped(*ticks_s):
    return Lines([0] * len(ticks_s), None, list(ticks_s))


def both(*pairs):
    return Lines([0] * len(pairs), [number for number, _ in pairs], [tick for _, tick in pairs])


def fed(subject, *events, seam=False):
    """Feed events; return what is told of them, short: numbers or clock of lines, numbers of packets, refusals."""
    return [short(told.event) for event in events for told in subject.feed(event, 0.0, seam=seam)]


def short(event):
    if isinstance(event, Packets):
        return event.sequence[0]
    if isinstance(event, Lines):
        return event.tick_s if event.sequence is None else event.sequence
    return str(event.reason) if isinstance(event, Damage) else event


def ended(subject):
    return [short(told.event) for told in subject.finish()]


# what follows


def test_packets_in_step_go_on_at_once():
    subject = gaps()
    assert fed(subject, *(packet(n) for n in range(5))) == [0, 1, 2, 3, 4]
    assert subject.held == 0


@pytest.mark.parametrize("columns", [("seq", "counts"), ("ms", "counts"), ("seq", "ms", "counts"), ("counts",)])
def test_event_in_step_is_handed_on_as_it_is(columns):
    subject = gaps(*columns)
    for first in (0, 5):
        numbers = list(range(first, first + 5))
        event = Lines(
            [0] * 5, numbers if "seq" in columns else None, [n / 80 for n in numbers] if "ms" in columns else None
        )
        ((told, arrival),) = subject.feed(event, 7.0)
        assert told is event
        assert arrival == 7.0


def test_number_and_clock_that_turn_round_are_in_step():
    subject = gaps()
    first = 2**16 - 2
    events = [single((first + n) % 2**16, (2**32 - 15_000 + 10_000 * n) % 2**32, 10) for n in range(5)]
    assert fed(subject, *events) == [65534, 65535, 0, 1, 2]
    assert subject.held == 0


def test_lines_that_turn_round_within_an_event_are_in_step():
    subject = gaps("seq", "counts", sequence_bits=8)
    assert fed(subject, numbered(253, 254), numbered(255, 0, 1)) == [[253, 254], [255, 0, 1]]


def test_coarse_clock_that_stands_still_is_in_step_where_a_number_tells():
    subject = gaps("seq", "ms", "counts", rate_hz=1000.0)
    event = both((0, 0.0), (1, 0.001), (2, 0.001), (3, 0.002))
    assert fed(subject, event, both((4, 0.003))) == [[0, 1, 2, 3], [4]]


def test_damage_goes_on_at_once():
    subject = gaps("seq", "counts")
    assert fed(subject, numbered(1), BAD_LINE, numbered(3)) == [[1], "not a number", [3]]
    assert subject.held == 0


def test_damaged_packets_may_be_the_missing_ones():
    subject = gaps()
    assert fed(subject, packet(1), BAD_PACKET, BAD_PACKET, packet(4)) == [1, "bad checksum", "bad checksum", 4]


# what was lost


def test_first_after_a_loss_waits_for_the_next():
    subject = gaps()
    assert fed(subject, packet(0), packet(5)) == [0]
    assert subject.held == 1
    assert fed(subject, packet(6)) == [5, 6]
    assert subject.held == 0


def test_each_event_keeps_its_arrival():
    subject = gaps()
    subject.feed(packet(0), 1.0)
    assert subject.feed(packet(5), 2.0) == []
    assert [told.arrival for told in subject.feed(packet(6), 3.0)] == [2.0, 3.0]


def test_frames_with_losses_on_both_sides_go_on():
    subject = gaps("seq", "counts")
    assert fed(subject, numbered(1, 5, 9, 14, 15)) == [[1, 5, 9, 14, 15]]


@given(st.lists(st.integers(1, 3000), min_size=1, max_size=60), st.lists(st.integers(1, 59), max_size=10))
def test_nothing_in_order_is_held_out(steps, cuts):
    subject, numbers = gaps("seq", "counts"), [0]
    for step in steps:
        numbers.append(numbers[-1] + step)
    edges = [0, *sorted(set(cuts)), len(numbers)]
    events = [numbered(*(n % 2**16 for n in numbers[a:b])) for a, b in pairwise(edges) if numbers[a:b]]
    passed = [*fed(subject, *events), *ended(subject)]
    assert [number for lines in passed for number in lines] == [n % 2**16 for n in numbers]


@given(st.lists(st.integers(1, 2**31 - 1), min_size=1, max_size=60))
def test_no_packet_in_order_is_held_out(steps):
    subject, ticks = gaps(), [0]
    for step in steps:
        ticks.append(ticks[-1] + step)
    events = [single(n % 2**16, tick % 2**32, 1) for n, tick in enumerate(ticks)]
    assert [*fed(subject, *events), *ended(subject)] == list(range(len(ticks)))


def test_last_before_the_end_goes_on():
    subject = gaps()
    assert fed(subject, packet(0), packet(5)) == [0]
    assert ended(subject) == [5]
    assert subject.held == 0


# what is damaged


@pytest.mark.parametrize("wrong", [7, 18_000, 30_000])
def test_damaged_number_costs_its_own_line(wrong):
    subject = gaps("seq", "counts")
    told = fed(subject, numbered(1, 2, 3 + wrong, 4, 5, 6))
    assert told == [[1, 2], "out of step", [4, 5, 6]]


def test_what_is_damaged_is_told_with_its_samples():
    subject = gaps()
    subject.feed(packet(0), 1.0)
    subject.feed(packet(1, tick=77_000_000), 2.0)
    told = subject.feed(packet(2), 3.0)
    assert told[0] == (Damage(Reason.OUT_OF_STEP, 0, 10), 2.0)
    assert told[1] == (packet(2), 3.0)


def test_damaged_clock_costs_its_own_line():
    subject = gaps("seq", "ms", "counts")
    lines = both((1, 0.0125), (2, 0.025), (3, 9.038), (4, 0.05), (5, 0.063))
    assert fed(subject, lines) == [[1, 2], "out of step", [4, 5]]


def test_damaged_number_behind_is_no_restart():
    subject = gaps("seq", "counts")
    assert fed(subject, numbered(901, 902, 93, 904, 905)) == [[901, 902], Late(1), [904, 905]]


def test_two_damaged_numbers_cost_two_lines():
    subject = gaps("seq", "counts")
    assert fed(subject, numbered(1, 2, 3003, 1004, 5, 6)) == [[1, 2], "out of step", "out of step", [5, 6]]


# what comes late, or twice


def test_frame_that_comes_twice_is_late():
    subject = gaps()
    assert fed(subject, packet(0), packet(1), packet(1), packet(2)) == [0, 1, Late(1), 2]


def test_frames_that_come_twice_long_after_are_late():
    """After a stall of the link, say: arrivals are no proof that the sensor was started again."""
    subject = gaps()
    events = [packet(n) for n in (*range(400), *range(210, 260), 400, 401)]
    assert fed(subject, *events) == [*range(400), Late(50), 400, 401]


def test_frame_that_was_overtaken_is_late():
    subject = gaps()
    assert fed(subject, *(packet(n) for n in (0, 1, 3, 4, 2, 5, 6))) == [0, 1, 3, 4, Late(1), 5, 6]


def test_frame_that_overtook_is_held_out():
    """One of two that changed places is lost; which one is a matter of taste."""
    subject = gaps()
    assert fed(subject, *(packet(n) for n in (0, 1, 3, 2, 4, 5))) == [0, 1, "out of step", 2, 4, 5]


def test_late_frames_before_a_loss():
    subject = gaps()
    assert fed(subject, *(packet(n) for n in (0, 1, 0, 7, 8))) == [0, 1, Late(1), 7, 8]


def test_late_at_the_end_is_late():
    subject = gaps()
    assert fed(subject, packet(0), packet(1), packet(0)) == [0, 1]
    assert ended(subject) == [Late(1)]


# what starts again


def test_hundred_frames_behind_are_a_sensor_that_started_again():
    subject = gaps("seq", "counts", rate_hz=320.0)
    assert fed(subject, numbered(*range(5000, 5010))) == [list(range(5000, 5010))]
    assert fed(subject, *(numbered(n) for n in range(BEHIND_FRAMES - 1))) == []
    assert fed(subject, numbered(BEHIND_FRAMES - 1)) == [[n] for n in range(BEHIND_FRAMES)]
    assert fed(subject, numbered(BEHIND_FRAMES)) == [[BEHIND_FRAMES]]


def test_more_than_a_second_behind_is_a_sensor_that_started_again():
    subject = gaps("seq", "counts")  # 80 a second
    fed(subject, numbered(5000))
    assert fed(subject, numbered(*range(80))) == []
    assert fed(subject, numbered(80)) == [list(range(80)), [80]]


def test_sensor_that_starts_again_over_a_link_that_loses_goes_on():
    subject = gaps("seq", "counts")
    fed(subject, numbered(5000, 5001))
    came = [n for n in range(200) if n % 7]
    passed = [number for told in fed(subject, numbered(*came)) for number in told]
    assert passed == came


def test_sensor_that_comes_back_by_a_new_link_goes_on_at_once():
    subject = gaps()
    assert fed(subject, packet(5000)) == [5000]
    subject.finish()
    assert fed(subject, packet(0)) == [0]


# a line with a seam


def test_line_with_a_seam_waits_for_its_next():
    subject = gaps("seq", "counts")
    fed(subject, numbered(1))
    assert fed(subject, numbered(2), seam=True) == []
    assert fed(subject, numbered(3)) == [[2], [3]]


def test_glued_line_is_damaged():
    """Of 12,8400 and 19,9731 is left 12,9731; the next is 20."""
    subject = gaps("seq", "counts")
    fed(subject, numbered(10, 11))
    assert fed(subject, numbered(12), seam=True) == []
    assert fed(subject, numbered(20, 21)) == ["out of step", [20, 21]]


def test_line_glued_to_one_that_comes_twice_is_damaged():
    subject = gaps("seq", "counts")
    fed(subject, numbered(10, 11))
    assert fed(subject, numbered(12), numbered(8), seam=True) == ["out of step"]
    assert fed(subject, numbered(9), numbered(12), numbered(13)) == [Late(2), [12], [13]]


def test_only_the_first_line_of_a_chunk_has_a_seam():
    subject = gaps("seq", "counts")
    fed(subject, numbered(1))
    assert fed(subject, numbered(2, 3, 9), seam=True) == [[2, 3]]
    assert fed(subject, numbered(10)) == [[9], [10]]


def test_chunk_that_begins_with_a_seam_goes_on_whole_once_its_second_line_fits():
    subject = gaps("ms", "counts")
    fed(subject, stamped(0.0, 1 / 80))
    event = stamped(2 / 80, 3 / 80, 4 / 80)
    ((told, _),) = subject.feed(event, 0.0, seam=True)
    assert told is event


@pytest.mark.parametrize(("step", "good"), [(0.45, True), (0.35, False)])
def test_line_with_a_seam_is_damaged_when_the_next_comes_too_soon_after_it(step, good):
    """Too soon is less than half a period of 12.5 ms, less the step of the clock, 1 ms."""
    subject = gaps("ms", "counts")
    fed(subject, stamped(0.0, 1 / 80))
    told = fed(subject, stamped(2.4 / 80, (2.4 + step) / 80, (3.4 + step) / 80), seam=True)
    assert told[0] == ([2.4 / 80, (2.4 + step) / 80, (3.4 + step) / 80] if good else "out of step")


def test_lines_that_all_have_seams_go_on_one_behind():
    subject = gaps("ms", "counts")
    told = [fed(subject, stamped(n / 80), seam=True) for n in range(4)]
    assert told == [[], [[0.0]], [[1 / 80]], [[2 / 80]]]
    assert ended(subject) == [[3 / 80]]


@pytest.mark.parametrize(("then", "good"), [(4, True), (3, False), (5, False)])
def test_damage_behind_a_line_with_a_seam_must_be_the_missing_line(then, good):
    subject = gaps("seq", "counts")
    fed(subject, numbered(1))
    fed(subject, numbered(2), seam=True)
    told = fed(subject, BAD_LINE, numbered(then), numbered(then + 1))
    assert told[:2] == ["not a number", [2] if good else "out of step"]


def test_lines_with_seams_of_a_sensor_slower_than_it_says_go_on():
    """Half as fast as its profile says: the period is learnt from lines without a seam."""
    subject = gaps("ms", "counts")
    fed(subject, *(stamped(n / 40) for n in range(100)))
    told = [number for n in range(100, 110) for number in fed(subject, stamped(n / 40), seam=True)]
    assert told == [[n / 40] for n in range(100, 109)]


# always

LINE = st.tuples(st.integers(0, 300) | st.integers(0, 2**16 - 1), st.booleans())


@given(st.lists(LINE | st.none(), max_size=400))
def test_every_line_goes_on_once_or_is_told_to_be_held_out(came):
    subject, passed, refused = gaps("seq", "counts"), 0, 0
    for line in came:
        event, seam = (BAD_LINE, False) if line is None else (numbered(line[0]), line[1])
        for told, _ in subject.feed(event, 0.0, seam=seam):
            passed += isinstance(told, Lines) and len(told.counts)
            refused += told.frames if isinstance(told, Late) else isinstance(told, Damage) and told is not BAD_LINE
        assert subject.held < BEHIND_FRAMES
    for told, _ in subject.finish():
        passed += isinstance(told, Lines) and len(told.counts)
        refused += told.frames if isinstance(told, Late) else 0
    assert passed + refused == sum(line is not None for line in came)


@given(st.lists(st.integers(0, 300), max_size=200), st.lists(st.integers(0, 200), max_size=20))
def test_what_goes_on_does_not_depend_on_how_lines_came(numbers, cuts):
    whole, cut = gaps("seq", "counts"), gaps("seq", "counts")

    def passed(subject, *events):
        told = [*fed(subject, *events), *ended(subject)]
        return [number for lines in told if isinstance(lines, list) for number in lines]

    edges = [0, *sorted(cuts), len(numbers)]
    events = [numbered(*numbers[a:b]) for a, b in pairwise(edges) if numbers[a:b]]
    assert passed(cut, *events) == passed(whole, *([numbered(*numbers)] if numbers else []))
