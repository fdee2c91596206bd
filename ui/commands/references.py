"""`ramphold references`: the reference tables there are, a new one to type in, and a check of one that was typed in."""

from __future__ import annotations

import argparse
from pathlib import Path

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_file
from analysis.battery.actions import load_actions
from analysis.references.tables import ReferenceTable, load_table, shipped_tables
from analysis.references.typed_in import EMPTY, Doubt, actions_of, doubts
from ui.papers.tables import text_table
from ui.words.words import Words


def run(options: argparse.Namespace) -> int:
    """Write an empty table, check those that are named, or list those that come with the program."""
    words = Words()
    if options.new is not None:
        _begin(Path(options.new), words)
        return 0
    tables = [load_table(name) for name in options.files] if options.files else list(shipped_tables())
    print(text_table([_line(table) for table in tables], ("table", "rows", "kind", "unit", "score", "actions")))
    for table in tables if options.files else ():
        _check(table, words)
    return 0


def _begin(path: Path, words: Words) -> None:
    if path.exists():
        raise ArchiveError(f"{path}: is there already: give another name with --new, or check it without --new")
    replace_file(path, lambda aside: aside.write_text(EMPTY, encoding="utf-8"))
    print(words("references.begun", file=path))


def _line(table: ReferenceTable) -> tuple[str, ...]:
    about = table.about
    actions = ", ".join(actions_of(table.rows))
    return (table.name, str(len(table.rows)), about.kind, about.unit.value, about.score, actions)


def _check(table: ReferenceTable, words: Words) -> None:
    """Say what is right in form and may be wrong all the same."""
    known = load_actions()
    for action in actions_of(table.rows):
        if action not in known:
            print(words("references.unknown_action", table=table.name, action=action, actions=", ".join(known)))
    for doubt in doubts(table):
        print(_doubt(doubt, table, words))
    print(words("references.checked", table=table.name, rows=len(table.rows)))


def _doubt(doubt: Doubt, table: ReferenceTable, words: Words) -> str:
    row = doubt.row
    ages = f"{row.age_from}-{row.age_to}" if row.age_to is not None else f"{row.age_from}-"
    known = {"table": table.name, "action": row.action, "sex": row.sex, "ages": ages}
    if doubt.cv_pct is not None:
        return words("references.odd_sd", **known, pct=words.number(doubt.cv_pct, 0))
    return words("references.odd_mean", **known, mean=f"{row.mean:g}", others=f"{doubt.others:g}")
