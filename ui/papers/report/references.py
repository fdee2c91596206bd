"""What published tables say of people like this one: where one fits, and where none does, why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from analysis.battery.actions import load_actions
from analysis.references.lookup import Case, Misfit, NoMatch, find_row
from analysis.references.standing import Standing, standing
from analysis.references.tables import ReferenceTable
from analysis.results.action_result import ActionResult
from analysis.results.quantities import Unit
from analysis.results.settings import ScoreOf, TrialScore
from analysis.results.summary import SessionSummary
from ui.papers.report.content import Block, Column, Notes, Row, Section, Table
from ui.papers.report.occasion import Occasion
from ui.papers.report.order import place_of
from ui.papers.report.sources import Sources
from ui.papers.report.wording import Wording
from ui.words.words import NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the tables say of some results."""

    found: dict[tuple[str, str, str], list[tuple[ActionResult, Standing]]]
    """By table, action and method: the standing of each side."""
    missed: dict[str, dict[Misfit, list[str]]]
    """By table: why no row fits, and which results."""
    count: int
    """Of the results."""


def references(
    wording: Wording, occasion: Occasion, tables: Sequence[ReferenceTable], sources: Sources
) -> Section | None:
    """Return how the results stand to each table, and why no row fits; None when nothing can be compared."""
    cases = _cases(occasion, occasion.summary)
    if not cases or not tables:
        return None
    asked = _ask(wording, occasion, cases, tables)
    blocks: list[Block] = []
    if asked.found:
        rows = tuple(_row(wording, found, sources) for found in asked.found.values())
        blocks.append(Table(columns=_columns(wording), rows=rows))
        used = [table for table in tables if any(name == table.name for name, _, _ in asked.found)]
        cautions = [f"{sources.cite(table.about.source)} {' '.join(_cautions(table))}" for table in used]
        blocks.append(Notes(sentences=tuple(cautions), small=True))
    else:
        blocks.append(Notes(sentences=(wording("references.none"),)))
    blocks.append(Notes(sentences=tuple(_why_not(wording, tables, asked, sources)), small=True))
    return Section(title=wording("references.title"), blocks=tuple(blocks))


def _ask(
    wording: Wording, occasion: Occasion, cases: Sequence[tuple[ActionResult, Case]], tables: Sequence[ReferenceTable]
) -> Asked:
    """Hold each result against each table, scored as the table is where it says how."""
    asked = Asked(found={}, missed={}, count=len(cases))
    for table in tables:
        summary = _scored_as(occasion, table)
        for result, case in _cases(occasion, summary):
            match = find_row(table, case)
            if isinstance(match, NoMatch):
                names = asked.missed.setdefault(table.name, {}).setdefault(match.reason, [])
                names.append(wording.joined(result.action, result.side))
            elif (force := _force(summary, result)) > 0.0:
                key = (table.name, case.action.key, result.method)
                asked.found.setdefault(key, []).append((result, standing(match, force)))
    return asked


def _cautions(table: ReferenceTable) -> tuple[str, ...]:
    """Return who was measured, and what the table itself warns of, as its file says it."""
    return (f"{table.about.population}.", *table.about.caution)


def _scored_as(occasion: Occasion, table: ReferenceTable) -> SessionSummary:
    """Return the session by the score of a table; by its own where the table does not say."""
    own, about = occasion.summary.settings.score, table.about
    return occasion.scored_as(
        own.trial if about.score == "not stated" else TrialScore(about.score),
        own.of if about.score_of == "not stated" else ScoreOf(about.score_of),
    )


def _cases(occasion: Occasion, summary: SessionSummary) -> list[tuple[ActionResult, Case]]:
    """Return each result that a table may be asked about: of a known action, with a trial that counts."""
    known, person = load_actions(), occasion.session.context.person
    return [
        (
            result,
            Case(
                action=known[result.action],
                person=person,
                side=result.side,
                method=result.method,
                lever_arm_m=_lever_arm(summary, result),
            ),
        )
        for result in sorted(summary.actions, key=lambda each: place_of(each.action, each.side))
        if result.action in known and result.best is not None
    ]


def _lever_arm(summary: SessionSummary, result: ActionResult) -> float | None:
    """Return torque over force of what stands for the set, so that a reference is held against that very torque."""
    value = result.value(summary.settings.score.of)
    if value is None or value.torque_nm is None or not value.force_n > 0.0:
        return None
    return value.torque_nm / value.force_n


def _force(summary: SessionSummary, result: ActionResult) -> float:
    value = result.value(summary.settings.score.of)
    return 0.0 if value is None else value.force_n


def _columns(wording: Wording) -> tuple[Column, ...]:
    return (
        Column(heading=wording("references.action"), width=92),
        Column(heading=wording("references.side"), width=32),
        Column(heading=wording("references.value"), width=76, number=True),
        Column(heading=wording("references.reference"), width=84, number=True),
        Column(heading=wording("references.standing"), width=84),
        Column(heading=wording("references.remarks"), width=136),
        Column(heading=wording("references.source"), width=32),
    )


def _row(wording: Wording, found: Sequence[tuple[ActionResult, Standing]], sources: Sources) -> Row:
    first, table = found[0][0], found[0][1].match.table
    remarks = dict.fromkeys(remark for _, each in found for remark in each.match.remarks)
    told = [*_score_of(wording, table), *(wording(f"reference_remark.{remark.name}") for remark in remarks)]
    lines = [_line(wording, result, each, table.about.unit) for result, each in found]
    return Row(
        cells=(
            f"{wording.action(first.action)}\n{wording.words(f'test.{first.method}')}",
            *("\n".join(cells) for cells in zip(*lines, strict=True)),
            ", ".join(told) or NOTHING,
            sources.cite(table.about.source),
        )
    )


def _score_of(wording: Wording, table: ReferenceTable) -> Iterator[str]:
    """Yield how the trials were scored for this table, where it says how."""
    about = table.about
    if about.score != "not stated":
        yield wording(f"scored.{about.score}")
    if about.score_of != "not stated":
        yield wording(f"scored.{about.score_of}")


def _line(wording: Wording, result: ActionResult, found: Standing, unit: Unit) -> tuple[str, str, str, str]:
    side = NOTHING if result.side is None else wording(f"side.{result.side}")
    value = f"{wording.strength(found.value, unit)} {wording.symbol(unit)}"
    return (side, value, _reference(wording, found, unit), _standing(wording, found))


def _reference(wording: Wording, found: Standing, unit: Unit) -> str:
    if found.mean is None:
        low, high = wording.strength(found.mean_low, unit), wording.strength(found.mean_high, unit)
        return wording("references.pooled", low=low, high=high)
    mean = wording.strength(found.mean, unit)
    # a deviation that is good for no z score is not shown beside the mean: it would be read as one that is
    if found.z is None or found.sd is None:
        return wording("references.mean", mean=mean)
    return wording("references.mean_sd", mean=mean, sd=wording.strength(found.sd, unit))


def _standing(wording: Wording, found: Standing) -> str:
    if found.place is not None:
        return wording(f"references.place.{found.place.value}")
    share = wording("references.share", pct=wording.number(found.pct_of_mean, 0))
    if found.z is None:
        return share
    return wording(
        "references.z",
        share=share,
        z=wording.number(found.z, 1, signed=True),
        percentile=wording.number(found.percentile, 0),
    )


def _why_not(wording: Wording, tables: Sequence[ReferenceTable], asked: Asked, sources: Sources) -> Iterator[str]:
    for table in tables:
        reasons = asked.missed.get(table.name, {})
        if not reasons:
            continue
        told = "; ".join(
            f"{wording(f'no_reference.{reason.name}')}: {_names(wording, names, asked.count)}"
            for reason, names in reasons.items()
        )
        yield wording("references.unfit", table=table.about.title, source=sources.cite(table.about.source), why=told)


def _names(wording: Wording, names: Sequence[str], count: int) -> str:
    """Return which results are meant; many are counted."""
    if len(names) == count:
        return wording("references.all")
    return "; ".join(names) if len(names) <= 4 else wording("references.several", count=len(names))
