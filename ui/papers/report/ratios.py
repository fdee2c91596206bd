"""Ratios within a joint, and what was published of them, as what it is."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from acquire.values.records import Side
from analysis.results.ratios import Beside, RatioResult
from ui.papers.report.content import Block, Column, Notes, Row, Section, Table
from ui.papers.report.occasion import Occasion
from ui.papers.report.sources import Sources
from ui.papers.report.wording import Wording
from ui.words.words import NOTHING


def ratios(wording: Wording, occasion: Occasion, sources: Sources) -> Section | None:
    """Return the ratios; None when no two actions of a joint were tested."""
    found = [list(group) for _, group in groupby(occasion.summary.ratios, key=lambda each: each.key)]
    if not found:
        return None
    columns = (
        Column(heading=wording("ratios.ratio"), width=150),
        Column(heading=wording("side.left"), width=62, number=True),
        Column(heading=wording("side.right"), width=62, number=True),
        Column(heading=wording("ratios.published"), width=252),
    )
    blocks: list[Block] = [Table(columns=columns, rows=tuple(_row(wording, each, sources) for each in found))]
    blocks.append(Notes(sentences=(wording("ratios.note"),), small=True))
    return Section(title=wording("ratios.title"), blocks=tuple(blocks))


def _row(wording: Wording, results: Sequence[RatioResult], sources: Sources) -> Row:
    first = results[0]
    quantities = dict.fromkeys(each.quantity for each in results if each.quantity is not None)
    of = " / ".join(wording(f"quantity.{each.value}") for each in quantities)
    name = f"{wording.action(first.numerator)} : {wording.action(first.denominator)}" + (f" ({of})" if of else "")
    published = "; ".join(_published(wording, each, sources) for each in first.published) or wording("ratios.nothing")
    return Row(cells=(name, _value(wording, results, "left"), _value(wording, results, "right"), published))


def _value(wording: Wording, results: Sequence[RatioResult], side: Side) -> str:
    # a ratio without a side stands where the left one would
    sides = (side, None) if side == "left" else (side,)
    result = next((each for each in results if each.side in sides), None)
    if result is None:
        return NOTHING
    if result.value is None:
        return wording.listed("lacks", tuple(each.value for each in result.missing)) or NOTHING
    return wording.with_uncertainty(result.value, result.uncertainty, most=3)


def _published(wording: Wording, beside: Beside, sources: Sources) -> str:
    row = beside.published
    low, high = wording.number(row.low, 2), wording.number(row.high, 2)
    span = low if row.low == row.high else f"{low}\u2013{high}"
    why = wording("ratios.fits") if not beside.misfits else wording(f"unfit.{beside.misfits[0].value}")
    return f"{span} ({wording(f'statistic.{row.statistic}')}, {why}) {sources.cite(row.source)}"
