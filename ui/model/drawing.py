"""A figure as strokes and marks, and its fitting into the unit square."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from acquire.values.arrays import FloatArray

Point = tuple[float, float]
"""Across and down; in the finished drawing 0 to 1."""

SCALE = 0.83
"""Frame widths for the body height; less only where a body with its arms up would not fit."""
MARGIN = 0.03
MARK_REACH = 0.012
"""How far the strokes of pad, arrow and marks reach beyond their points."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One stroke of the drawing, with round ends."""

    name: str
    points: tuple[Point, ...]
    width: float
    group: str = ""
    """Lines of a group are one limb: nothing is drawn between them."""
    tested: bool = False
    """Whether it belongs to the limb that is tested."""
    filled: bool = False
    """Whether it is the outline of a surface."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """The head."""

    centre: Point
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrow:
    """The push, from the pad to where it would go."""

    tail: Point
    tip: Point
    barbs: tuple[Point, Point]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A figure, ready to be painted: couch first, then the lines in their order, then head and marks."""

    lines: tuple[Line, ...]
    """The body, far to near."""
    joints: tuple[Point, ...]
    """Those of the tested limb, from the trunk outwards."""
    head: Circle
    couch: tuple[Line, ...]
    pad: tuple[Point, ...] | None
    """Its corners; none for an action that does not say where it goes."""
    arrow: Arrow | None
    steady_marks: tuple[tuple[Point, Point, Point], ...]
    """Wedges; the first point touches the body."""
    box: tuple[float, float, float, float]
    """What the drawing takes of the square: left, top, right, bottom."""


def framed(loose: Drawing) -> Drawing:
    """Return a drawing in body heights, moved and scaled into the middle of the unit square.

    The scale is the same for every drawing that fits with it, so that all figures are of one size.
    """
    low, high = _extent(loose)
    scale = min(SCALE, (1.0 - 2.0 * MARGIN) / float(np.max(high - low)))
    shift = 0.5 - scale * (low + high) / 2.0

    def put(place: Point) -> Point:
        return point(scale * np.array(place) + shift)

    return Drawing(
        lines=tuple(_put_line(line, put, scale) for line in loose.lines),
        joints=tuple(put(place) for place in loose.joints),
        head=Circle(centre=put(loose.head.centre), radius=scale * loose.head.radius),
        couch=tuple(_put_line(line, put, scale) for line in loose.couch),
        pad=None if loose.pad is None else tuple(put(corner) for corner in loose.pad),
        arrow=None if loose.arrow is None else _put_arrow(loose.arrow, put),
        steady_marks=tuple((put(a), put(b), put(c)) for a, b, c in loose.steady_marks),
        box=(*point(scale * low + shift), *point(scale * high + shift)),
    )


def point(place: FloatArray) -> Point:
    """Return an array of two as a point."""
    return float(place[0]), float(place[1])


def _put_line(line: Line, put: Callable[[Point], Point], scale: float) -> Line:
    return replace(line, points=tuple(put(place) for place in line.points), width=scale * line.width)


def _put_arrow(arrow: Arrow, put: Callable[[Point], Point]) -> Arrow:
    one, other = arrow.barbs
    return Arrow(tail=put(arrow.tail), tip=put(arrow.tip), barbs=(put(one), put(other)))


def _extent(drawing: Drawing) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest coordinates, widths of strokes included, shapes (2,)."""
    spots = [(place, 0.5 * line.width) for line in (*drawing.lines, *drawing.couch) for place in line.points]
    spots.append((drawing.head.centre, drawing.head.radius))
    marks = [place for mark in drawing.steady_marks for place in mark]
    arrow = drawing.arrow
    marks += [*(drawing.pad or ()), *((arrow.tail, arrow.tip, *arrow.barbs) if arrow else ())]
    spots += [(place, MARK_REACH) for place in marks]
    places, reaches = np.array([place for place, _ in spots]), np.array([[reach] for _, reach in spots])
    return np.min(places - reaches, axis=0), np.max(places + reaches, axis=0)
