"""`ramphold sensors --new`: a profile for a sensor that nobody has described."""

from __future__ import annotations

import argparse
import contextlib
import json
import re
import shlex
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from acquire.discovery import Confidence, Finding, Known, Proposal, discover
from acquire.discovery.capture_file import read_capture, write_capture
from acquire.errors import ProfileError
from acquire.links.base import Link
from acquire.sensor.profile_text import save_profile
from acquire.values.units import ForceUnit
from ui.commands.dialogue import Dialogue
from ui.commands.proposal_text import proposal_json, proposal_notes, proposal_table
from ui.commands.terminal_guide import TerminalGuide
from ui.session.describe_sensor import (
    Observation,
    baud_finding,
    bluetooth_findings,
    open_bluetooth,
    open_serial,
    watched,
)
from ui.session.proposal_file import guesses, proposal_file

UNNAMED = "new-sensor"


def run(options: argparse.Namespace) -> int:
    """Look at a sensor or a captured file, propose a profile, and write it when the user agrees."""
    dialogue = Dialogue(silent=options.yes)
    _check_files(options)
    proposal = _from_file(options) if options.capture else _live(options, dialogue)
    if not options.json:
        print(f"{proposal_table(proposal)}\n")
        print("\n".join(proposal_notes(proposal)))
    written = _write(proposal, options, dialogue)
    told = _next(written, proposal, options)
    if options.json:
        content = {**proposal_json(proposal), "written": written and str(written), "next": told}
        print(json.dumps(content, indent=1, allow_nan=False))
    else:
        print(f"\nNext: {told}" if written else "\nNothing was written.")
    return 0


def _check_files(options: argparse.Namespace) -> None:
    """Refuse what cannot be written, before anybody has pushed."""
    for name, path in (("--out", options.out), ("--keep", options.keep)):
        if path is not None and not Path(path).parent.is_dir():
            raise ProfileError(f"{Path(path).parent}: there is no such folder; create it or choose another {name}")
    if options.yes and _out(options).exists():
        raise ProfileError(f"{_out(options)}: is there already; choose another --out, or leave out --yes to be asked")
    if options.keep and Path(options.keep).exists():
        raise ProfileError(f"{options.keep}: is there already; choose another --keep")


def _out(options: argparse.Namespace) -> Path:
    return Path(options.out or f"{options.name or UNNAMED}.toml")


def _name(options: argparse.Namespace) -> str:
    """Return the name of the profile: given, or that of the file."""
    words = re.findall(r"[a-z0-9]+", _out(options).stem.lower())
    return options.name or "-".join(words) or UNNAMED


def _known(options: argparse.Namespace, link: tuple[Finding, ...], tried: tuple[int, ...] = ()) -> Known:
    said = tuple(
        Finding(key=key, value=value, confidence=Confidence.GIVEN, why="as you said")
        for key, value in (("start", options.start), ("stop", options.stop))
        if value
    )
    return Known(
        name=_name(options),
        title=options.title or "",
        link=link + said,
        tried=tried,
        rate_hz=options.rate,
        counts_per_newton=options.counts_per_newton,
        rated_force_n=options.rated,
        unit=None if options.unit is None else ForceUnit(options.unit),
    )


def _from_file(options: argparse.Namespace) -> Proposal:
    capture = read_capture(options.capture)
    if capture.datagrams:
        link = bluetooth_findings(capture.service, capture.characteristic, why="it was kept with what it sent")
    elif options.baud is not None:
        link = (_given_baud(options.baud),)
    else:
        why = "a file does not tell: the usual one; a USB device port ignores it"
        link = (Finding(key="baud", value=115_200, confidence=Confidence.GUESS, why=why),)
    return discover(capture, _known(options, link))


def _given_baud(baud: int) -> Finding:
    return Finding(key="baud", value=baud, confidence=Confidence.GIVEN, why="as you said")


def _live(options: argparse.Namespace, dialogue: Dialogue) -> Proposal:
    """Look at a sensor that is there."""
    guide = TerminalGuide(dialogue)
    dialogue.tell(f"listening to {options.port}")
    if options.bluetooth:
        link, findings = open_bluetooth(options.port, start=options.start, stop=options.stop, guide=guide)
        with link:
            return _watch(options, dialogue, link, _known(options, findings))
    serial = open_serial(options.port, baud=options.baud, start=options.start, stop=options.stop)
    with serial:
        baud, tried = baud_finding(serial, given=options.baud, starts=bool(options.start), guide=guide)
        return _watch(options, dialogue, serial, _known(options, (baud,), tried))


def _watch(options: argparse.Namespace, dialogue: Dialogue, link: Link, known: Known) -> Proposal:
    """Let the person push, and make of it what can be made; ask for what cannot be seen."""
    observation = Observation(link=link, guide=TerminalGuide(dialogue), known=known)
    with _kept(observation, options.keep, dialogue):
        return watched(observation, mass_kg=options.weight)


@contextlib.contextmanager
def _kept(observation: Observation, path: str | None, dialogue: Dialogue) -> Iterator[None]:
    """Keep what came, also where nothing could be made of it."""
    try:
        yield
    finally:
        if path is not None and observation.chunks:
            write_capture(path, observation.capture)
            dialogue.tell(f"what came was kept in {path}")


def _write(proposal: Proposal, options: argparse.Namespace, dialogue: Dialogue) -> Path | None:
    """Write the profile where the user agrees; return where."""
    out = _out(options)
    if not dialogue.agrees(f"\nWrite this profile to {out}?"):
        return None
    if out.exists() and not dialogue.agrees(f"{out} is there already. Replace it?"):
        return None
    source = options.capture or options.port
    save_profile(out, proposal_file(proposal, source=source, on=datetime.now(UTC).date()))
    return out


def _next(written: Path | None, proposal: Proposal, options: argparse.Namespace) -> str | None:
    """Return the next command to type."""
    if written is None:
        return None
    port = options.port or ("NAME" if proposal.profile.link == "bluetooth" else "PORT")
    weights = " --weights 0,5,10" if "counts_per_newton" in guesses(proposal) else ""
    return f"ramphold check {shlex.quote(str(written))} --port {shlex.quote(port)}{weights}"
