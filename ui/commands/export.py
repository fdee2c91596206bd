"""`ramphold export`: sessions for other programs."""

from __future__ import annotations

import argparse
import contextlib
import json
from collections.abc import Callable, Iterator, Sequence
from importlib import import_module
from pathlib import Path

from acquire.errors import ArchiveError
from acquire.values.outside_text import visible
from analysis.results.settings import load_result_settings
from analysis.trial.protocol import load_protocol
from ui.papers.report.occasion import Occasion, read_occasion
from ui.progress import clear_parts, counted

Writer = Callable[[Path, Sequence[tuple[str, Occasion]]], list[Path]]

WRITERS = {
    "csv": ("ui.papers.export.tidy", "write_tidy"),
    "json": ("ui.papers.export.plain", "write_plain"),
    "fhir": ("ui.papers.export.fhir", "write_fhir"),
}

TRACES = "traces"
"""Where the CSV export keeps the trace of each trial."""

SHOWN = 8
"""So many files are named; the others are counted."""


def run(options: argparse.Namespace) -> int:
    """Read all sessions, then write them; nothing is written when one cannot be read."""
    protocol, settings = load_protocol(options.protocol), load_result_settings(options.results)
    paths = [Path(name) for name in options.files]
    occasions = [read_occasion(path, protocol, settings) for path in counted(paths, "sessions")]
    folder = Path(options.out)
    module, name = WRITERS[options.to]
    write: Writer = getattr(import_module(module), name)
    try:
        with _made(folder):
            written = write(folder, list(zip(names_of(paths), occasions, strict=True)))
    except OSError as error:
        raise ArchiveError(f"{error.filename or folder}: cannot be written: {error.strerror or error}") from error
    _tell(written, as_json=options.json)
    return 0


@contextlib.contextmanager
def _made(folder: Path) -> Iterator[None]:
    """Make a folder, and take it away again where nothing could be written into it."""
    there = folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    clear_parts(folder, folder / TRACES)
    try:
        yield
    except BaseException:
        if not there:
            for empty in (*(each for each in folder.rglob("*") if each.is_dir()), folder):
                empty.rmdir()
        raise


def names_of(paths: Sequence[Path]) -> list[str]:
    """Return a name for each file: its own, with a number where others have the same.

    Examples
    --------
    >>> names_of([Path("a/p1.h5"), Path("b/p1.h5"), Path("p2.h5")])
    ['p1', 'p1-2', 'p2']
    """
    names: list[str] = []
    for path in paths:
        name, number = path.stem, 2
        while name in names:
            name, number = f"{path.stem}-{number}", number + 1
        names.append(name)
    return names


def _tell(written: Sequence[Path], *, as_json: bool) -> None:
    if as_json:
        print(json.dumps({"files": [str(path) for path in written]}, indent=1))
        return
    for path in written[:SHOWN]:
        print(visible(str(path)))
    if len(written) > SHOWN:
        print(f"and {len(written) - SHOWN} more in {written[-1].parent}")
