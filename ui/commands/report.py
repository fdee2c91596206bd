"""`ramphold report`: a session as a PDF and a page of HTML."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path

from acquire.values.outside_text import visible
from acquire.values.units import ForceUnit
from analysis.results.settings import ResultSettings, load_result_settings
from analysis.trial.protocol import Protocol, load_protocol
from ui.papers.report.occasion import Occasion, read_occasion
from ui.papers.report.write import make_report, places_of, write_report
from ui.progress import clear_parts, counted
from ui.words.words import Words


def run(options: argparse.Namespace) -> int:
    """Judge the session and those it is held against, and write its report."""
    protocol, settings = load_protocol(options.protocol), load_result_settings(options.results)
    path = Path(options.file)
    files = [path, *map(Path, options.earlier), *map(Path, options.own)]
    session, *others = _read(files, protocol, settings)
    earlier, own = others[: len(options.earlier)], others[len(options.earlier) :]
    report = make_report(
        session,
        protocol,
        words=Words(options.language),
        unit=ForceUnit(options.unit),
        earlier=earlier,
        own=own,
        references=options.references,
    )
    places = places_of(path, None if options.out is None else Path(options.out))
    clear_parts(places.pdf, places.page)
    write_report(report, places)
    if options.json:
        print(json.dumps({"pdf": str(places.pdf), "html": str(places.page)}))
    else:
        for place in (places.pdf, places.page):
            print(f"report: {visible(str(place))}")
    return 0


def _read(files: Sequence[Path], protocol: Protocol, settings: ResultSettings) -> list[Occasion]:
    return [read_occasion(file, protocol, settings) for file in counted(files, "sessions")]
