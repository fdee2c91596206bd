"""The table of transitions: every state meets every event, and each pair has an outcome that is written down."""

from itertools import product

import pytest

from ui.session.cues import EFFORT, READY, TRIAL, Cue
from ui.session.transitions import IGNORED, KEYS, TABLE, UNREACHABLE, Choice, Event

PAIRS = list(product(Cue, Event))
GUIDED = set(Cue) - {Cue.RECORD}
CHOSEN = {
    Choice.NEXT: {Cue.REST, Cue.PLACE, Cue.DONE, Cue.PAUSED, Cue.RECORD},
    Choice.READY: {Cue.REST, Cue.SET, Cue.PLACE},
    Choice.RETURN: {Cue.PLACE, Cue.REST, Cue.PAUSED, Cue.RECORD},
}
"""What a choice may come to."""


def moves_from(cue):
    return {event: move for (state, event), move in TABLE.items() if state is cue}


def targets(move):
    return {move.to} if isinstance(move.to, Cue) else CHOSEN[move.to]


@pytest.mark.parametrize(("cue", "event"), PAIRS, ids=[f"{c.value}-{e.value}" for c, e in PAIRS])
def test_every_pair_has_one_outcome(cue, event):
    outcomes = [(cue, event) in TABLE, event in IGNORED[cue], event in UNREACHABLE[cue]]
    assert outcomes.count(True) == 1


def test_every_state_but_the_hands_free_one_is_reached_from_the_first():
    reached, ahead = {Cue.PLACE}, [Cue.PLACE]
    while ahead:
        new = set().union(*(targets(move) for move in moves_from(ahead.pop()).values())) - reached - {Cue.RECORD}
        reached |= new
        ahead += new
    assert reached == GUIDED


def test_go_is_said_only_after_get_ready_and_that_only_for_a_limb_in_place():
    assert {cue for (cue, _), move in TABLE.items() if move.to is Cue.GO} == {Cue.SET}
    assert {(cue, event) for (cue, event), move in TABLE.items() if Cue.SET in targets(move)} == {
        (Cue.PLACE, Event.PRESS),
        (Cue.REST, Event.PRESS),
        (Cue.REST, Event.RESTED),
        *((cue, Event.NOTHING) for cue in EFFORT),  # the same limb, which has just pushed too little
    }
    assert {moves_from(Cue.REST)[event].to for event in (Event.PRESS, Event.RESTED)} == {Choice.READY}


def test_halt_takes_the_word_back_and_stops_an_effort():
    assert {moves_from(cue)[Event.HALT].to for cue in READY} == {Cue.PLACE}
    assert {moves_from(cue)[Event.HALT].to for cue in EFFORT} == {Cue.HALTED}


def test_halted_effort_is_left_by_no_key():
    assert set(moves_from(Cue.HALTED)) & KEYS == {Event.PAUSE}
    assert moves_from(Cue.HALTED)[Event.PAUSE].to is Cue.HALTED


def test_pause_holds_everything_and_only_a_press_goes_on():
    pausable = {Cue.PLACE, Cue.REST, Cue.RECORD, *READY}
    assert {cue for cue in Cue if moves_from(cue).get(Event.PAUSE, (None,))[0] is Cue.PAUSED} == pausable
    leaving = {event for event, move in moves_from(Cue.PAUSED).items() if move.to is not Cue.PAUSED}
    assert leaving == {Event.PRESS, Event.LOST}


def test_lost_sensor_stops_every_state_but_the_end():
    assert {cue for cue in Cue if Event.LOST in moves_from(cue)} == set(Cue) - {Cue.LOST, Cue.DONE}
    assert {event for event, move in moves_from(Cue.LOST).items() if move.to is not Cue.LOST} == {Event.BACK}


def test_no_key_but_skip_leaves_an_item_out():
    assert {event for (_, event), move in TABLE.items() if move.do and move.do.name == "LEAVE_OUT"} == {Event.SKIP}
    assert not {cue for cue in TRIAL if Event.SKIP in moves_from(cue)}
