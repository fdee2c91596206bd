"""What is not known, or was not done, and what each result so lacks; where the uncertainty comes from."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.results.force_budget import Source
from analysis.results.missing import Missing
from analysis.statistics.uncertainty import Component, Unknown
from ui.papers.report.content import Notes, Section
from ui.papers.report.occasion import Occasion
from ui.papers.report.wording import Wording, places

OF_THE_PERSON = frozenset({Missing.MASS, Missing.HEIGHT})
"""What is said once, of the person, and not of every action."""


def missing_section(wording: Wording, occasion: Occasion) -> Section | None:
    """Return what is missing; None when nothing is."""
    sentences = [wording(f"missing.{each.value}", what=wording("missing.person")) for each in occasion.summary.missing]
    named: dict[Missing, list[str]] = {}
    for result in occasion.summary.actions:
        for each in result.missing:
            if each not in OF_THE_PERSON:
                named.setdefault(each, []).append(wording.joined(result.action, result.side))
    count = len(occasion.summary.actions)
    for each, names in named.items():
        all_of_them = len(names) == count and count > 1
        what = wording("missing.all") if all_of_them else "; ".join(dict.fromkeys(names))
        sentences.append(wording(f"missing.{each.value}", what=what))
    if not sentences:
        return None
    return Section(title=wording("missing.title"), blocks=(Notes(sentences=tuple(sentences), listed=True),))


def uncertainty(wording: Wording, occasion: Occasion) -> Section | None:
    """Return each source of the forces' uncertainty with what it contributes; None when no trial counts."""
    told = [
        _told(wording, source, found)
        for source in Source
        if (found := [each for each in _components(occasion) if each.source == source.value])
    ]
    if not told:
        return None
    sentences = (f"{'; '.join(told)}.", wording("uncertainty.note", unit=wording.unit.symbol))
    return Section(title=wording("uncertainty.title"), blocks=(Notes(sentences=sentences, small=True),))


def _components(occasion: Occasion) -> Iterator[Component]:
    for result in occasion.summary.actions:
        value = result.value(occasion.summary.settings.score.of)
        if value is not None:
            yield from value.force_budget.components


def _told(wording: Wording, source: Source, found: list[Component]) -> str:
    """Return what one source contributes, from the least to the most, and in how many results it is not known."""
    sizes = [each.contribution / wording.unit.newtons for each in found if each.contribution is not None]
    name, text = wording(f"error.{source.value}"), ""
    if sizes:
        ends = dict.fromkeys(wording.number(size, places(size)) for size in (min(sizes), max(sizes)))
        text = " " + "\u2013".join(ends)
    whys: dict[Unknown, int] = {}
    for each in found:
        if each.unknown is not None:
            whys[each.unknown] = whys.get(each.unknown, 0) + 1
    unknown = [
        wording("uncertainty.why", why=wording(f"unknown.{why.value}"), count=count) for why, count in whys.items()
    ]
    return name + text + (f" ({', '.join(unknown)})" if unknown else "")
