"""What has changed since earlier sessions: against the last one, with whose detectable change; a trend over three."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from analysis.reliability.change import Change, NotComparable, Verdict, change
from analysis.reliability.important import important
from analysis.reliability.published import PublishedChange
from analysis.reliability.retest import Reliability
from analysis.reliability.trend import MONTH, Trend, trend
from analysis.results.quantities import Unit
from analysis.results.scores import Score, ScoreKind
from ui.papers.report.content import Block, Column, Line, Lines, Notes, Row, Section, Table
from ui.papers.report.occasion import Occasion
from ui.papers.report.order import place_of
from ui.papers.report.sources import Sources
from ui.papers.report.wording import Wording
from ui.words.words import NOTHING

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
    wording: Wording, occasion: Occasion, earlier: Sequence[Occasion], known: Known, sources: Sources
) -> Section | None:
    """Return the changes; None when no earlier session is given."""
    if not earlier:
        return None
    courses = [course for action in _actions(occasion) for course in _courses(occasion, earlier, action, known)]
    named = [course for course in courses if course.before]
    days = ", ".join(wording.day(each.session.context.started) for each in earlier)
    blocks: list[Block] = [Notes(sentences=(wording("changes.sessions", days=days),), small=True)]
    if named:
        trending = len(earlier) >= 2
        rows = tuple(
            _row(wording, [each for each in named if _row_of(each.now) == key], trending, sources)
            for key in dict.fromkeys(_row_of(each.now) for each in named)
        )
        blocks.append(Table(columns=_columns(wording, trending), rows=rows))
        blocks.append(Notes(sentences=tuple(_legend(wording, trending)), small=True))
        matters = tuple(each for course in named for each in _important(wording, course, sources))
        if matters:
            blocks.append(Notes(sentences=(wording("changes.important"), *matters), small=True))
    new = [wording.joined(each.now.action, each.now.side) for each in courses if not each.before]
    if new:
        blocks.append(Notes(sentences=(wording("changes.new", what="; ".join(dict.fromkeys(new))),)))
    return Section(title=wording("changes.title"), blocks=tuple(blocks))


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


def _columns(wording: Wording, trending: bool) -> tuple[Column, ...]:
    columns = [
        Column(heading=wording("changes.action"), width=120),
        Column(heading=wording("changes.side"), width=32),
        Column(heading=wording("changes.scores"), width=96, number=True),
        Column(heading=wording("changes.change"), width=84),
        Column(heading=wording("changes.detectable"), width=104),
    ]
    if trending:
        columns += [
            Column(heading=wording("changes.course"), width=50),
            Column(heading=wording("changes.trend"), width=102, number=True),
        ]
    return tuple(columns)


def _row(wording: Wording, courses: Sequence[Course], trending: bool, sources: Sources) -> Row:
    now = courses[0].now
    name = f"{wording.action(now.action)}\n{wording.symbol(now.unit)}, {wording.words(f'test.{now.method}')}"
    lines = [_line(wording, course, sources) for course in courses]
    cells: list[str | Lines] = [name, *("\n".join(each) for each in zip(*lines, strict=True))]
    if trending:
        cells += [_picture(wording, courses), "\n".join(_trend(wording, course) for course in courses)]
    return Row(cells=tuple(cells))


def _line(wording: Wording, course: Course, sources: Sources) -> tuple[str, str, str, str]:
    now, found = course.now, course.found
    side = NOTHING if now.side is None else wording(f"side.{now.side}")
    scores = " \u2192 ".join(wording.strength(score.value, score.unit) for score in course.all)
    if not isinstance(found, Change):
        reasons = found.reasons if found else ()
        why = ", ".join(wording(f"not_comparable.{each.name}") for each in reasons)
        return (side, scores, wording("changes.not_comparable"), why)
    pct = wording.number(found.pct, 1, signed=True)
    size = f"{MARKS[found.verdict]} {wording.strength(found.difference, now.unit, signed=True)} ({pct} %)"
    return (side, scores, size, _whose(wording, found, sources))


def _whose(wording: Wording, found: Change, sources: Sources) -> str:
    """Return the detectable change, and whose it is."""
    detectable = found.detectable
    if detectable is None:
        return wording("changes.not_known")
    unit = found.later.unit
    low, high = wording.strength(detectable.low, unit), wording.strength(detectable.high, unit)
    if detectable.published is not None and detectable.published.low is None:
        size = wording("changes.up_to", high=high)
    else:
        size = high if low == high else f"{low}\u2013{high}"
    if detectable.published is not None:
        who = wording("changes.published", source=sources.cite(detectable.published.source))
    else:
        persons = len(detectable.own.persons) if detectable.own else 0
        who = wording("changes.own", persons=persons)
    marks = "".join(wording(f"changes.remark.{each.name}") for each in detectable.remarks)
    return f"{size} {who}{marks}"


def _important(wording: Wording, course: Course, sources: Sources) -> Iterator[str]:
    """Yield where a change lies beside one that was found to matter to persons; no mark of the table says so."""
    if not isinstance(course.found, Change):
        return
    now = course.now
    for each in important(course.found):
        ends = dict.fromkeys(wording.strength(size, now.unit) for size in (each.low, each.high))
        span = "\u2013".join(ends)
        yield wording(
            f"important.{each.beside.value}",
            what=wording.joined(now.action, now.side),
            change=f"{wording.strength(course.found.difference, now.unit, signed=True)} {wording.symbol(now.unit)}",
            size=f"{span} {wording.symbol(now.unit)}",
            who=each.row.population,
            source=sources.cite(each.row.source),
        )


def _picture(wording: Wording, courses: Sequence[Course]) -> Lines:
    first = min(score.when for course in courses for score in course.all)
    lines = tuple(
        Line(
            months=tuple((score.when - first) / MONTH for score in course.all),
            values=tuple(score.value for score in course.all),
            dashed=course.now.side == "right",
        )
        for course in courses
    )
    return Lines(lines=lines, about=wording("changes.course_about", what=wording.action(courses[0].now.action)))


def _trend(wording: Wording, course: Course) -> str:
    found = trend(course.all)
    if not isinstance(found, Trend):
        return NOTHING
    unit = course.now.unit
    slope, low, high = (wording.strength(each, unit, signed=True) for each in (found.per_month, found.low, found.high))
    return wording("changes.slope", slope=slope, low=low, high=high)


def _legend(wording: Wording, trending: bool) -> Iterable[str]:
    marks = {verdict.name.lower(): mark for verdict, mark in MARKS.items()}
    yield wording("changes.legend", **marks)
    yield wording("changes.remarks")
    if trending:
        yield wording("changes.trend_note")
