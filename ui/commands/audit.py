"""`ramphold audit`: how examiners work, from the shape of the curves of a whole archive."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from analysis.audit.archive_audit import Audit
from analysis.trial.protocol import load_protocol
from ui.model.audit.work import TerminalProgress, audit_archive, mapper_for
from ui.model.audit.workers import ClusterKeys
from ui.papers.audit.coaching_sheet import coach
from ui.papers.audit.files import audit_json, write_csv
from ui.papers.audit.text import audit_text
from ui.words.words import Words

LEFT_OUT = 3
"""The audit is done, and files were left out of it."""


def run(options: argparse.Namespace) -> int:
    """Audit an archive; print it, and write what was asked for. Files that were left out are told by the exit code."""
    folder, protocol, words = Path(options.archive), load_protocol(options.protocol), Words(options.language)
    audit = audit_archive(
        folder,
        protocol,
        store=None if options.store is None else Path(options.store),
        mapper=mapper_for(options.processes, options.cluster, _keys(options)),
        blind=options.blind,
        progress=TerminalProgress(words),
    )
    if options.json:
        print(json.dumps(audit_json(audit), indent=1, allow_nan=False))
    else:
        print(audit_text(audit, words))
    for path in _written(audit, folder, options, words):
        print(words("audit.written", path=path), file=sys.stderr)
    return LEFT_OUT if audit.unreadable else 0


def _keys(options: argparse.Namespace) -> ClusterKeys | None:
    if options.tls_ca is None:
        return None
    return ClusterKeys(authority=options.tls_ca, certificate=options.tls_cert, key=options.tls_key)


def _written(audit: Audit, folder: Path, options: argparse.Namespace, words: Words) -> list[Path]:
    written: list[Path] = []
    if options.csv:
        written += write_csv(audit, Path(options.csv))
    if options.pdf:
        from ui.papers.audit.pages import write_audit_pages  # noqa: PLC0415 (drawing is heavy)

        write_audit_pages(audit, Path(options.pdf), words)
        written.append(Path(options.pdf))
    if options.coach:
        written.append(coach(audit, folder, options.coach, Path(options.sheet), words))
    return written
