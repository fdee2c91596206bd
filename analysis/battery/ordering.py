"""The order in which a battery takes least of a person's time, and how long it will take.

The program tries a battery station by station. A station is one action; its sides take turns, so that one
rests while the other works, and it is left when every set of it is complete. So the time of a battery is that of
its stations and of the ways between them::

    station      efforts, turns from side to side, and what is left of the rests meanwhile
    way          next action, and with it perhaps another body position, the other side, belt for hand

Orders are compared by changes of body position first and by total time then; of equals the one nearest to the
user's list is taken. The fewest changes are had by finishing one position before the next, and within that the
best way through the stations is found station by station, keeping for each set of stations done, and each way
they can end, only the shortest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import NamedTuple

from acquire.values.records import Method, Side
from analysis.battery.actions import Action, find_action
from analysis.battery.battery import Item

MOST_TURNED = 6
"""The items of one action are tried in every order up to this number of them; beyond, in the user's."""

MOST_KEPT = 500
"""Part orders that are followed at a time: far more than any battery of one person has, so that the search is
exact, and few enough that a list of hundreds ends in time."""

SAME_DIGITS = 6
"""Times are compared to so many digits of a second: the same sum in another order is the same time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What a battery costs beside its rests, s; common practice, no source.

    They add up: another body position comes before the next action's own placing.
    """

    effort_s: float = 10.0
    """Get set, build up, hold, let go."""
    action_s: float = 60.0
    """The next action: explain, place limb and pad. The first one too."""
    position_s: float = 120.0
    """Another body position."""
    side_s: float = 15.0
    """The other side."""
    method_s: float = 30.0
    """Hand to belt, or back."""


STANDARD = Costs()


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """How long a battery takes."""

    total_s: float
    waiting_s: float
    """Of that, time in which nobody does anything but rest."""
    position_changes: int
    """The first position is no change."""


class _Look(NamedTuple):
    """What a way from one item to the next depends on, beside action and position."""

    side: Side | None
    method: Method


class _Task(NamedTuple):
    """One item, with its place in the user's list."""

    place: int
    action: str
    position: str
    look: _Look


class _Sets(NamedTuple):
    """How each station is gone through."""

    trials: int
    rest_s: float
    costs: Costs
    alternate: bool


class _Pass(NamedTuple):
    """One way through a station."""

    seconds: float
    places: tuple[int, ...]


Passes = dict[tuple[_Look, _Look], _Pass]
"""The shortest way through a station for each first and last look."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """Stations that differ in nothing but their name, in the user's order."""

    position: str
    stations: tuple[Passes, ...]


class _State(NamedTuple):
    """Where a part order stands: stations done of each kind, and how the last ended."""

    done: tuple[int, ...]
    position: str
    look: _Look


def duration_s(
    items: Iterable[Item],
    actions: dict[str, Action],
    *,
    trials: int,
    rest_s: float,
    costs: Costs = STANDARD,
    alternate: bool = True,
) -> Estimate:
    """Return how long a battery takes in the order given.

    Parameters
    ----------
    items : iterable of Item
        The battery.
    actions : dict
        The actions there are, by key.
    trials : int
        Efforts in each set; none is repeated.
    rest_s : float
        Between two efforts of the same item at least, s.
    costs : Costs
        What all else takes.
    alternate : bool
        Whether the items of an action take turns; otherwise the trials of one come together.

    Raises
    ------
    ActionsError
        If an item's action is not among `actions`.
    ValueError
        If `trials` is below 1 or `rest_s` below 0.

    Examples
    --------
    >>> from analysis.battery.actions import load_actions
    >>> one = [Item(action="elbow-flexion", side="left")]
    >>> duration_s(one, load_actions(), trials=3, rest_s=90.0)
    Estimate(total_s=270.0, waiting_s=180.0, position_changes=0)
    """
    _check(trials, rest_s)
    now = waiting = 0.0
    changes = 0
    before: _Task | None = None
    for station in _stations(_tasks(items, actions)):
        ended: dict[int, float] = {}
        for task in _in_turn(station, trials, alternate=alternate):
            ready = now + _way_s(before, task, costs)
            start = max(ready, ended.get(task.place, -rest_s) + rest_s)
            waiting += start - ready
            changes += before is not None and before.position != task.position
            now = ended[task.place] = start + costs.effort_s
            before = task
    return Estimate(total_s=now, waiting_s=waiting, position_changes=changes)


def order_items(
    items: Iterable[Item],
    actions: dict[str, Action],
    *,
    trials: int,
    rest_s: float,
    costs: Costs = STANDARD,
    alternate: bool = True,
) -> tuple[Item, ...]:
    """Return a battery in the order that changes position least, and then takes least time.

    Parameters
    ----------
    items, actions, trials, rest_s, costs, alternate
        As for `duration_s`.

    Returns
    -------
    tuple of Item
        The same items; those of one action are adjacent. A list that cannot be bettered comes back as it is.

    Raises
    ------
    ActionsError, ValueError
        As `duration_s`.

    Examples
    --------
    >>> from analysis.battery.actions import load_actions
    >>> plain = [Item(action=key) for key in ("ankle-dorsiflexion", "knee-flexion", "hip-flexion")]
    >>> [item.action for item in order_items(plain, load_actions(), trials=3, rest_s=90.0)]
    ['ankle-dorsiflexion', 'hip-flexion', 'knee-flexion']
    """
    _check(trials, rest_s)
    listed = tuple(items)
    stations = _stations(_tasks(listed, actions))
    if not stations:
        return ()
    grouped = tuple(task.place for station in stations for task in station)
    sets = _Sets(trials=trials, rest_s=rest_s, costs=costs, alternate=alternate)
    found = _shortest(_kinds(stations, sets), costs)

    def worth(places: tuple[int, ...]) -> tuple[int, float, tuple[int, ...]]:
        took = duration_s(
            [listed[place] for place in places],
            actions,
            trials=trials,
            rest_s=rest_s,
            costs=costs,
            alternate=alternate,
        )
        return took.position_changes, _rounded(took.total_s), places

    return tuple(listed[place] for place in min(found, grouped, key=worth))


def _check(trials: int, rest_s: float) -> None:
    if trials < 1:
        raise ValueError(f"trials must be 1 or more, got {trials}")
    if not rest_s >= 0.0:
        raise ValueError(f"rest_s must not be below 0 s, got {rest_s} s")


def _tasks(items: Iterable[Item], actions: dict[str, Action]) -> list[_Task]:
    found = [(item, find_action(item.action, actions)) for item in items]
    return [
        _Task(place, action.key, action.position, _Look(item.side, item.method or action.method))
        for place, (item, action) in enumerate(found)
    ]


def _stations(tasks: Iterable[_Task]) -> list[list[_Task]]:
    """Return the tasks of each action, in the order in which the actions come first."""
    stations: dict[str, list[_Task]] = {}
    for task in tasks:
        stations.setdefault(task.action, []).append(task)
    return list(stations.values())


def _way_s(before: _Task | None, task: _Task, costs: Costs) -> float:
    """Return what lies between two efforts beside rest, s."""
    if before is None:
        return costs.action_s
    seconds = _turn_s(before.look, task.look, costs)
    if before.action != task.action:
        seconds += costs.action_s + (costs.position_s if before.position != task.position else 0.0)
    return seconds


def _turn_s(one: _Look, other: _Look, costs: Costs) -> float:
    side = costs.side_s if one.side != other.side else 0.0
    return side + (costs.method_s if one.method != other.method else 0.0)


def _kinds(stations: list[list[_Task]], sets: _Sets) -> tuple[_Kind, ...]:
    """Return the stations by what they cost: of those that cost the same, only their number matters."""
    kinds: dict[tuple[object, ...], list[Passes]] = {}
    for station in stations:
        passes = _passes(station, sets)
        cost = frozenset((ends, way.seconds) for ends, way in passes.items())
        kinds.setdefault((station[0].position, cost), []).append(passes)
    return tuple(_Kind(position=str(key[0]), stations=tuple(found)) for key, found in kinds.items())


def _passes(station: list[_Task], sets: _Sets) -> Passes:
    orders = permutations(station) if len(station) <= MOST_TURNED else [tuple(station)]
    best: Passes = {}
    for order in orders:
        seconds = _rounded(_station_s(order, sets))
        way = _Pass(seconds, tuple(task.place for task in order))
        ends = (order[0].look, order[-1].look)
        best[ends] = min(best.get(ends, way), way)
    return best


def _station_s(order: Sequence[_Task], sets: _Sets) -> float:
    """Return the time from the first effort of a station to the end of its last."""
    now = 0.0
    ended: dict[int, float] = {}
    before = order[0]
    for task in _in_turn(order, sets.trials, alternate=sets.alternate):
        ready = now + _turn_s(before.look, task.look, sets.costs)
        start = max(ready, ended.get(task.place, -sets.rest_s) + sets.rest_s)
        now = ended[task.place] = start + sets.costs.effort_s
        before = task
    return now


def _in_turn(order: Sequence[_Task], trials: int, *, alternate: bool) -> list[_Task]:
    """Return the tasks of a station, one for each trial: by turns, or each with all of its trials."""
    if alternate:
        return list(order) * trials
    return [task for task in order for _ in range(trials)]


def _shortest(kinds: tuple[_Kind, ...], costs: Costs) -> tuple[int, ...]:
    """Return the places of the shortest order that finishes each position before the next."""
    layer: dict[_State, _Pass] = {}
    for number, kind in enumerate(kinds):
        done = tuple(int(number == other) for other in range(len(kinds)))
        for (_, last), way in kind.stations[0].items():
            _keep(layer, _State(done, kind.position, last), way)
    for _ in range(sum(len(kind.stations) for kind in kinds) - 1):
        layer = _next_layer(layer, kinds, costs)
    return min(layer.values()).places


def _next_layer(layer: dict[_State, _Pass], kinds: tuple[_Kind, ...], costs: Costs) -> dict[_State, _Pass]:
    """Return every part order made longer by one station."""
    longer: dict[_State, _Pass] = {}
    for state, way in layer.items():
        for number in _open(state, kinds):
            kind = kinds[number]
            done = tuple(count + (number == other) for other, count in enumerate(state.done))
            moved = costs.action_s + (costs.position_s if kind.position != state.position else 0.0)
            for (first, last), through in kind.stations[state.done[number]].items():
                seconds = way.seconds + moved + _turn_s(state.look, first, costs) + through.seconds
                _keep(
                    longer,
                    _State(done, kind.position, last),
                    _Pass(_rounded(seconds), way.places + through.places),
                )
    if len(longer) <= MOST_KEPT:
        return longer
    return dict(sorted(longer.items(), key=lambda part: part[1])[:MOST_KEPT])


def _open(state: _State, kinds: tuple[_Kind, ...]) -> list[int]:
    """Return the kinds that may come next: those of the same position as long as there are any."""
    left = [number for number, kind in enumerate(kinds) if state.done[number] < len(kind.stations)]
    here = [number for number in left if kinds[number].position == state.position]
    return here or left


def _keep(layer: dict[_State, _Pass], state: _State, way: _Pass) -> None:
    layer[state] = min(layer.get(state, way), way)


def _rounded(seconds: float) -> float:
    return round(seconds, SAME_DIGITS)
