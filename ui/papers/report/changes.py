"""What has changed since earlier sessions: against the last one, with whose detectable change; a trend over three."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from analysis.reliability.change import Change, NotComparable, Verdict, change
from analysis.reliability.published import PublishedChange
from analysis.reliability.retest import Reliability
from analysis.reliability.trend import MONTH, Trend, trend
from analysis.results.quantities import Unit
from analysis.results.scores import Score, ScoreKind
from ui.model.review.text import NOTHING
from ui.papers.report.content import Block, Column, Line, Lines, Notes, Row, Section, Table
from ui.papers.report.occasion import Occasion
from ui.papers.report.order import place_of
from ui.papers.report.sources import Sources
from ui.papers.report.wording import Pen

MARKS = {Verdict.BEYOND: "\u25b2", Verdict.WITHIN: "=", Verdict.UNDECIDED: "\u2248", Verdict.NOT_JUDGED: "?"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of the error of a change."""

    own: tuple[Reliability, ...] = ()
    published: tuple[PublishedChange, ...] = ()


NOTHING_KNOWN = Known()


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One score now, with those of the same action, side and method before."""

    now: Score
    before: tuple[Score, ...]
    """The first one first."""
    found: Change | NotComparable | None = field(default=None)
    """Against the last one before."""

    @property
    def all(self) -> tuple[Score, ...]:
        """All scores in the order of time."""
        return (*self.before, self.now)


def changes(
    pen: Pen, occasion: Occasion, earlier: Sequence[Occasion], known: Known, sources: Sources
) -> Section | None:
    """Return the changes; None when no earlier session is given."""
    if not earlier:
        return None
    courses = [course for action in _actions(occasion) for course in _courses(occasion, earlier, action, known)]
    named = [course for course in courses if course.before]
    days = ", ".join(pen.day(each.session.context.started) for each in earlier)
    blocks: list[Block] = [Notes(sentences=(pen("changes.sessions", days=days),), small=True)]
    if named:
        trending = len(earlier) >= 2
        rows = tuple(
            _row(pen, [each for each in named if _row_of(each.now) == key], trending, sources)
            for key in dict.fromkeys(_row_of(each.now) for each in named)
        )
        blocks.append(Table(columns=_columns(pen, trending), rows=rows))
        blocks.append(Notes(sentences=tuple(_legend(pen, trending)), small=True))
    new = [pen.joined(each.now.action, each.now.side) for each in courses if not each.before]
    if new:
        blocks.append(Notes(sentences=(pen("changes.new", what="; ".join(dict.fromkeys(new))),)))
    return Section(title=pen("changes.title"), blocks=tuple(blocks))


def _actions(occasion: Occasion) -> list[ScoreKind]:
    """Return one kind for each action, side and method, in order."""
    return sorted(occasion.force_scores(), key=lambda kind: place_of(kind.action, kind.side))


def _courses(occasion: Occasion, earlier: Sequence[Occasion], force: ScoreKind, known: Known) -> Iterator[Course]:
    """Yield the course of one action: its torque where the sessions have one to compare, its force otherwise."""
    kinds = (force._replace(unit=Unit.NEWTON_METRE), force)
    courses = [_course(occasion, earlier, kind, known) for kind in kinds if kind in occasion.scores]
    yield next((course for course in courses if isinstance(course.found, Change)), courses[-1])


def _course(occasion: Occasion, earlier: Sequence[Occasion], kind: ScoreKind, known: Known) -> Course:
    now = occasion.scores[kind]
    before = tuple(each.scores[kind] for each in earlier if kind in each.scores)
    found = change(before[-1], now, own=known.own, published=known.published) if before else None
    return Course(now=now, before=before, found=found)


def _row_of(score: Score) -> tuple[str, str, Unit]:
    return (score.action, score.method, score.unit)


def _columns(pen: Pen, trending: bool) -> tuple[Column, ...]:
    columns = [
        Column(heading=pen("changes.action"), width=120),
        Column(heading=pen("changes.side"), width=32),
        Column(heading=pen("changes.scores"), width=96, number=True),
        Column(heading=pen("changes.change"), width=84),
        Column(heading=pen("changes.detectable"), width=104),
    ]
    if trending:
        columns += [
            Column(heading=pen("changes.course"), width=50),
            Column(heading=pen("changes.trend"), width=102, number=True),
        ]
    return tuple(columns)


def _row(pen: Pen, courses: Sequence[Course], trending: bool, sources: Sources) -> Row:
    unit = courses[0].now.unit
    name = f"{pen.action(courses[0].now.action)}\n{pen.symbol(unit)}, {pen.words(f'test.{courses[0].now.method}')}"
    lines = [_line(pen, course, sources) for course in courses]
    cells: list[str | Lines] = [name, *("\n".join(each) for each in zip(*lines, strict=True))]
    if trending:
        cells += [_picture(pen, courses), "\n".join(_trend(pen, course) for course in courses)]
    return Row(cells=tuple(cells))


def _line(pen: Pen, course: Course, sources: Sources) -> tuple[str, str, str, str]:
    now, found = course.now, course.found
    side = NOTHING if now.side is None else pen(f"side.{now.side}")
    scores = " \u2192 ".join(pen.strength(score.value, score.unit) for score in course.all)
    if not isinstance(found, Change):
        reasons = found.reasons if found else ()
        why = ", ".join(pen(f"not_comparable.{each.name}") for each in reasons)
        return (side, scores, pen("changes.not_comparable"), why)
    pct = pen.number(found.pct, 1, signed=True)
    size = f"{MARKS[found.verdict]} {pen.strength(found.difference, now.unit, signed=True)} ({pct} %)"
    return (side, scores, size, _whose(pen, found, sources))


def _whose(pen: Pen, found: Change, sources: Sources) -> str:
    """Return the detectable change, and whose it is."""
    detectable = found.detectable
    if detectable is None:
        return pen("changes.not_known")
    unit = found.later.unit
    low, high = pen.strength(detectable.low, unit), pen.strength(detectable.high, unit)
    if detectable.published is not None and detectable.published.low is None:
        size = pen("changes.up_to", high=high)
    else:
        size = high if low == high else f"{low}\u2013{high}"
    if detectable.published is not None:
        who = pen("changes.published", source=sources.cite(detectable.published.source))
    else:
        persons = len(detectable.own.persons) if detectable.own else 0
        who = pen("changes.own", persons=persons)
    marks = "".join(pen(f"changes.remark.{each.name}") for each in detectable.remarks)
    return f"{size} {who}{marks}"


def _picture(pen: Pen, courses: Sequence[Course]) -> Lines:
    first = min(score.when for course in courses for score in course.all)
    lines = tuple(
        Line(
            months=tuple((score.when - first) / MONTH for score in course.all),
            values=tuple(score.value for score in course.all),
            dashed=course.now.side == "right",
        )
        for course in courses
    )
    return Lines(lines=lines, about=pen("changes.course_about", what=pen.action(courses[0].now.action)))


def _trend(pen: Pen, course: Course) -> str:
    found = trend(course.all)
    if not isinstance(found, Trend):
        return NOTHING
    unit = course.now.unit
    slope, low, high = (pen.strength(each, unit, signed=True) for each in (found.per_month, found.low, found.high))
    return pen("changes.slope", slope=slope, low=low, high=high)


def _legend(pen: Pen, trending: bool) -> Iterable[str]:
    marks = {verdict.name.lower(): mark for verdict, mark in MARKS.items()}
    yield pen("changes.legend", **marks)
    yield pen("changes.remarks")
    if trending:
        yield pen("changes.trend_note")
