"""What is not known, or was not done, and what each result so lacks; where the uncertainty comes from."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.results.force_budget import Source
from analysis.results.missing import Missing
from analysis.statistics.uncertainty import Component, Unknown
from ui.papers.report.content import Notes, Section
from ui.papers.report.occasion import Occasion
from ui.papers.report.wording import Pen, places

OF_THE_PERSON = frozenset({Missing.MASS, Missing.HEIGHT})
"""What is said once, of the person, and not of every action."""


def lacks(pen: Pen, occasion: Occasion) -> Section | None:
    """Return what is missing; None when nothing is."""
    sentences = [pen(f"missing.{each.value}", what=pen("missing.person")) for each in occasion.summary.missing]
    named: dict[Missing, list[str]] = {}
    for result in occasion.summary.actions:
        for each in result.missing:
            if each not in OF_THE_PERSON:
                named.setdefault(each, []).append(pen.joined(result.action, result.side))
    count = len(occasion.summary.actions)
    for each, names in named.items():
        all_of_them = len(names) == count and count > 1
        what = pen("missing.all") if all_of_them else "; ".join(dict.fromkeys(names))
        sentences.append(pen(f"missing.{each.value}", what=what))
    if not sentences:
        return None
    return Section(title=pen("missing.title"), blocks=(Notes(sentences=tuple(sentences), listed=True),))


def uncertainty(pen: Pen, occasion: Occasion) -> Section | None:
    """Return each source of the forces' uncertainty with what it contributes; None when no trial counts."""
    told = [
        _told(pen, source, found)
        for source in Source
        if (found := [each for each in _components(occasion) if each.source == source.value])
    ]
    if not told:
        return None
    sentences = (f"{'; '.join(told)}.", pen("uncertainty.note", unit=pen.unit.symbol))
    return Section(title=pen("uncertainty.title"), blocks=(Notes(sentences=sentences, small=True),))


def _components(occasion: Occasion) -> Iterator[Component]:
    for result in occasion.summary.actions:
        value = result.value(occasion.summary.settings.score.of)
        if value is not None:
            yield from value.force_budget.components


def _told(pen: Pen, source: Source, found: list[Component]) -> str:
    """Return what one source contributes, from the least to the most, and in how many results it is not known."""
    sizes = [each.contribution / pen.unit.newtons for each in found if each.contribution is not None]
    name, text = pen(f"error.{source.value}"), ""
    if sizes:
        ends = dict.fromkeys(pen.number(size, places(size)) for size in (min(sizes), max(sizes)))
        text = " " + "\u2013".join(ends)
    whys: dict[Unknown, int] = {}
    for each in found:
        if each.unknown is not None:
            whys[each.unknown] = whys.get(each.unknown, 0) + 1
    unknown = [pen("uncertainty.why", why=pen(f"unknown.{why.value}"), count=count) for why, count in whys.items()]
    return name + text + (f" ({', '.join(unknown)})" if unknown else "")
