"""What can be typed after `ramphold`; nothing heavy is imported here, so that help comes at once."""

from __future__ import annotations

import argparse
import math
from typing import TypeAlias

from ui.commands.argument_types import above as _above
from ui.commands.argument_types import between as _between
from ui.commands.argument_types import code as _code
from ui.commands.argument_types import whole_number as _whole
from ui.commands.new_sensor_arguments import new_sensor_options, wrong_new_sensor
from ui.version import program_version


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="ramphold",
        description="Record, judge and compare ramp-and-hold strength trials from a hand-held force sensor. "
        "A research and training tool, not a medical device. Without a command it opens the window.",
    )
    parser.add_argument("--version", action="version", version=f"ramphold {program_version()}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    _demo(commands)
    _sensors(commands)
    _check(commands)
    _audit(commands)
    _compare(commands)
    _record(commands)
    _replay(commands)
    _analyse(commands)
    _report(commands)
    _export(commands)
    _references(commands)
    return parser


def check_usage(parser: argparse.ArgumentParser, options: argparse.Namespace) -> None:
    """End the program with exit code 2 when options that are right one by one make no sense together."""
    checks = {
        "demo": _wrong_demo,
        "audit": _wrong_audit,
        "check": _wrong_check,
        "record": _wrong_record,
        "sensors": wrong_new_sensor,
    }
    wrong = checks.get(options.command, lambda _: None)(options)
    if wrong is not None:
        parser.error(wrong)


def _wrong_demo(options: argparse.Namespace) -> str | None:
    if options.board and options.window:
        return "give --board or --window, not both: nobody on the board waits for a cue"
    if options.seasons and (options.board or options.window):
        return "--seasons makes its sessions at once: leave out --board and --window"
    if options.disturb and (options.seasons or options.window):
        return "--disturb is for the session on the command line: leave out --seasons and --window"
    return None


def _wrong_audit(options: argparse.Namespace) -> str | None:
    tls = (options.tls_ca, options.tls_cert, options.tls_key)
    if any(tls) and not (all(tls) and options.cluster):
        return "--tls-ca, --tls-cert and --tls-key belong together, and to --cluster"
    if options.blind and options.coach:
        return "--coach is for one examiner by code, and --blind hides the codes: use one of them"
    return None


def _wrong_check(options: argparse.Namespace) -> str | None:
    wrong = {
        "--full needs --weights: it hangs them up and down": options.full and not options.weights,
        "give --history or --weights, not both": options.history and options.weights,
        "--picture needs --history": options.picture and not options.history,
        "--save needs --weights: without known weights there is no calibration to save": options.save
        and not options.weights,
        "--height needs --latitude": options.height is not None and options.latitude is None,
        "give --gravity or --latitude, not both": options.gravity is not None and options.latitude is not None,
    }
    return next((sentence for sentence, is_so in wrong.items() if is_so), None)


def _wrong_record(options: argparse.Namespace) -> str | None:
    given = {
        "--action": options.action,
        "--side": options.side,
        "--method": options.method,
        "--lever-arm": options.lever_arm,
        "--resting-force": options.resting_force,
    }
    doubled = [name for name, value in given.items() if value is not None]
    if options.battery and doubled:
        return f"--battery says what is tested: leave out {', '.join(doubled)}, or write a battery file"
    return None


Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001
"""What `add_subparsers` returns; argparse gives it no public name."""


def _demo(commands: Commands) -> None:
    parser = commands.add_parser(
        "demo",
        help="a whole invented session through a simulated sensor",
        description="Play an invented session on a simulated sensor, record it through a real serial line, judge "
        "each trial as it ends, and leave the session file, a table and a picture in a folder.",
    )
    parser.add_argument("--out", metavar="DIR", default="ramphold-demo", help="folder for the results (%(default)s)")
    parser.add_argument(
        "--speed",
        type=_between(1.0, 100.0),
        default=20.0,
        metavar="N",
        help="times real time, 1 to 100 (%(default)g)",
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of the invented forces (%(default)s)")
    parser.add_argument(
        "--window", action="store_true", help="in the window, with the space bar, not on the command line"
    )
    parser.add_argument(
        "--seasons", action="store_true", help="three sessions months apart, made at once, and the report of the last"
    )
    parser.add_argument("--language", choices=["en", "de"], default="en", help="of that report (%(default)s)")
    parser.add_argument(
        "--board",
        action="store_true",
        help="through the firmware of hardware_notes on an emulated board (needs gcc-avr and libsimavr-dev)",
    )
    parser.add_argument(
        "--disturb",
        metavar="NAME|FILE",
        help="over a bad link: bad-bluetooth, noisy-cable, busy-computer, or a file of your own",
    )
    _protocol(parser)
    _unit(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of a table")


def _sensors(commands: Commands) -> None:
    parser = commands.add_parser(
        "sensors",
        help="what is plugged in or in Bluetooth range, and the known profiles",
        description="List the serial ports of this machine, the Bluetooth Low Energy sensors in range, and the sensor "
        "profiles that the program knows. With --new, look at one that is none of them.",
    )
    parser.add_argument(
        "--listen",
        type=_between(0.0, 60.0),
        default=3.0,
        metavar="S",
        help="how long to listen for Bluetooth sensors; 0 does not (%(default)g)",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    new_sensor_options(parser)


def _port(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--port",
        help="serial port, or name or address of a Bluetooth sensor; not needed for the simulated one, nor where only "
        "one Bluetooth sensor of the profile is in range",
    )
    parser.add_argument(
        "--zero", action="store_true", help="first let the sensor take its own zero, by the command of its profile"
    )


def _check(commands: Commands) -> None:
    parser = commands.add_parser(
        "check",
        help="zero, noise, rate and lost samples of a sensor; with known weights its errors and a calibration",
        description="Look at an unloaded sensor: zero, noise, drift, true sample rate, lost samples. With --weights, "
        "ask for known masses one after the other, take each when it hangs still, and make a calibration from them; "
        "with --full up and down several times, for linearity, hysteresis, repeatability and creep. Each check is "
        "judged and kept; --history shows those of a sensor.",
    )
    parser.add_argument("sensor", metavar="SENSOR", help="a profile by name, or a profile file")
    _port(parser)
    parser.add_argument(
        "--seconds", type=_between(0.5, 600.0), metavar="S", help="how long to look (what the limits say)"
    )
    parser.add_argument("--weights", metavar="KG,KG,...", type=_masses, help="known masses, kg, such as 0,5,10,20")
    parser.add_argument("--full", action="store_true", help="hang the weights up and down, twice, and hold the last")
    parser.add_argument(
        "--mass-tolerance", metavar="PCT", type=_between(0.0, 10.0), help="masses are right within this, %% of them"
    )
    parser.add_argument(
        "--limits", default="hand-held", metavar="NAME|FILE", help="how to check, and limits to judge by (%(default)s)"
    )
    parser.add_argument(
        "--history", action="store_true", help="show the checks of this sensor, as a table and a picture"
    )
    parser.add_argument("--picture", metavar="FILE.png", help="where the picture goes (SENSOR-checks.png)")
    parser.add_argument("--speed", type=_between(1.0, 100.0), default=1.0, help="of the simulated sensor (%(default)g)")
    where = parser.add_argument_group("gravity where you are (default: standard gravity, 9.80665 m/s2)")
    where.add_argument("--gravity", type=_between(9.7, 9.9), metavar="M/S2", help="local gravity, if you know it")
    where.add_argument("--latitude", type=_between(-90.0, 90.0), metavar="DEG", help="or your latitude, degrees")
    where.add_argument("--height", type=_between(-500.0, 9000.0), metavar="M", help="and height above the sea, m")
    parser.add_argument("--serial", default="", help="serial number of the sensor, kept with the calibration")
    parser.add_argument("--by", default="", type=_code, help="code of who calibrates, kept with the calibration")
    parser.add_argument("--save", metavar="FILE", help="write the calibration to this TOML file")
    parser.add_argument("--calibration", metavar="FILE", help="use this calibration for newtons and zero")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _compare(commands: Commands) -> None:
    parser = commands.add_parser(
        "compare",
        help="one sensor against another that carries the same force",
        description="Watch two sensors at the same time, pressed on one another or hung in series: gain, offset, "
        "limits of agreement and delay of the one against the other.",
    )
    parser.add_argument("sensor", metavar="SENSOR", help="the sensor in question: a profile by name, or a profile file")
    parser.add_argument("--port", help="where it is")
    parser.add_argument("--calibration", metavar="FILE")
    parser.add_argument("--reference", required=True, metavar="SENSOR", help="the sensor that is trusted")
    parser.add_argument("--reference-port", metavar="PORT", help="where it is")
    parser.add_argument("--reference-calibration", metavar="FILE")
    parser.add_argument(
        "--seconds", type=_between(5.0, 300.0), default=20.0, metavar="S", help="how long to press (%(default)g)"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _record(commands: Commands) -> None:
    parser = commands.add_parser(
        "record",
        help="record from a sensor, hands-free, and judge each trial at its release",
        description="Record from a sensor until the battery or the count is done, or Ctrl-C. Efforts are found by "
        "themselves; each is judged and saved when it ends. The same command on the same day goes on where it stopped, "
        "after a crash too.",
    )
    parser.add_argument("--sensor", required=True, metavar="PROFILE", help="a profile by name, or a profile file")
    _port(parser)
    parser.add_argument("--out", required=True, metavar="FILE", help="session file to write (.h5)")
    parser.add_argument("--resume", action="store_true", help="go on with a session file of another day or run")
    parser.add_argument(
        "--lsl",
        nargs="?",
        const="Ramphold",
        metavar="NAME",
        help="send force and verdicts to other programs by the Lab Streaming Layer (%(const)s)",
    )
    parser.add_argument("--calibration", metavar="FILE", help="calibration of this sensor, from 'ramphold check'")
    parser.add_argument(
        "--trust-calibration",
        action="store_true",
        help="use it though it is more than 20 %% from the profile's nominal sensitivity (asked about otherwise)",
    )
    _second_sensor(parser)
    _tested(parser)
    _who(parser)
    parser.add_argument("--speed", type=_between(1.0, 100.0), default=1.0, help="of the simulated sensor (%(default)g)")
    _protocol(parser)
    _unit(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object at the end")


def _second_sensor(parser: argparse.ArgumentParser) -> None:
    pair = parser.add_argument_group("a second sensor at the same time, on the same clock")
    pair.add_argument("--second-sensor", metavar="PROFILE", help="its profile; its trials are saved, and fill no set")
    pair.add_argument("--second-port", metavar="PORT", help="where it is")
    pair.add_argument("--second-calibration", metavar="FILE")
    pair.add_argument("--second-side", choices=["left", "right"], help="the side it is held at (the other one)")


def _tested(parser: argparse.ArgumentParser) -> None:
    what = parser.add_argument_group("what is tested")
    what.add_argument(
        "--count", type=_whole(1), metavar="N", help="stop when the session has N efforts, those it had before counted"
    )
    what.add_argument(
        "--battery", metavar="NAME|FILE", help="all, arm, leg, or a battery file; ends when all sets are good"
    )
    what.add_argument(
        "--sides", choices=["both", "left", "right"], default="both", help="for all, arm, leg (%(default)s)"
    )
    what.add_argument("--trials", type=_whole(1), metavar="N", help="accepted trials in a set (the protocol's)")
    what.add_argument(
        "--action", metavar="KEY", help="one action, such as knee-extension; without --count its set ends the recording"
    )
    what.add_argument("--side", choices=["left", "right"])
    what.add_argument("--method", choices=["hand", "belt"], help="held by hand or by a belt")
    what.add_argument("--lever-arm", type=_between(0.01, 1.0), metavar="M", help="from the joint to the pad, m")
    what.add_argument(
        "--resting-force",
        type=_between(-500.0, 500.0),
        metavar="N",
        help="force of the relaxed limb on the pad, newtons, from a sensor zeroed without load; it is taken off",
    )


def _who(parser: argparse.ArgumentParser) -> None:
    who = parser.add_argument_group("who: codes, never names; letters, digits, '.', '-', '_', at most 32")
    who.add_argument("--person", default="", metavar="CODE", type=_code)
    who.add_argument("--sex", choices=["female", "male"])
    who.add_argument("--age", type=_between(0.0, 120.0), metavar="YEARS")
    who.add_argument("--mass", type=_between(1.0, 400.0), metavar="KG")
    who.add_argument("--height", type=_between(0.3, 2.6), metavar="M")
    who.add_argument("--dominant", choices=["left", "right"])
    who.add_argument("--affected", choices=["left", "right"], help="the side that is injured or ill, where one is")
    who.add_argument("--examiner", metavar="CODE", type=_code)
    who.add_argument("--examiner-limit", type=_above(0.0), metavar="N", help="force this examiner can hold, newtons")


def _replay(commands: Commands) -> None:
    parser = commands.add_parser(
        "replay",
        help="send a stored trace through the live path again",
        description="Send a stored trace through the very path that a live sensor takes, and judge each trial as it "
        "ends. The results equal those of 'ramphold analyse' at any speed.",
    )
    parser.add_argument("file", metavar="FILE", help="a session file (.h5) or a trace (.csv)")
    parser.add_argument("--speed", type=_speed, default=1.0, metavar="N|max", help="times real time (%(default)g)")
    _stored(parser)


def _analyse(commands: Commands) -> None:
    parser = commands.add_parser(
        "analyse",
        help="measure and judge stored traces",
        description="Find every effort in stored traces, measure it and judge it by the protocol.",
    )
    parser.add_argument("files", metavar="FILE", nargs="+", help="session files (.h5) or traces (.csv)")
    parser.add_argument("--picture", metavar="FILE.png", help="draw the trials of all files, thirty a picture")
    _stored(parser)


def _report(commands: Commands) -> None:
    parser = commands.add_parser(
        "report",
        help="a session as a PDF and a page of HTML",
        description="Write what a session came to, by joint and side, with uncertainty, changes since earlier "
        "sessions, published references and what is missing: one PDF and one page of HTML that say the same. No name "
        "is asked for; there is a line to write one on.",
    )
    parser.add_argument("file", metavar="FILE", help="a session file (.h5)")
    parser.add_argument(
        "--earlier", nargs="+", action="extend", default=[], metavar="FILE", help="earlier sessions of the same person"
    )
    parser.add_argument(
        "--own",
        nargs="+",
        action="extend",
        default=[],
        metavar="FILE",
        help="your own sessions of persons tested again within two weeks: their detectable change comes first",
    )
    parser.add_argument(
        "--references", nargs="+", action="extend", default=[], metavar="FILE.csv", help="your own reference tables"
    )
    parser.add_argument("--out", metavar="DIR|FILE", help="folder, or a .pdf or .html to name both by (beside FILE)")
    parser.add_argument("--language", choices=["en", "de"], default="en", help="of the report (%(default)s)")
    _protocol(parser)
    _results(parser)
    _unit(parser)
    parser.add_argument("--json", action="store_true", help="print where the files are as one JSON object")


def _export(commands: Commands) -> None:
    parser = commands.add_parser(
        "export",
        help="sessions for other programs: CSV, JSON, HL7 FHIR",
        description="Write sessions as tidy CSV with a data dictionary and a trace for each trial, as JSON, or as an "
        "HL7 FHIR R4 bundle of observations.",
    )
    parser.add_argument("files", metavar="FILE", nargs="+", help="session files (.h5)")
    parser.add_argument("--to", choices=["csv", "json", "fhir"], required=True, help="what to write")
    parser.add_argument("--out", metavar="DIR", default="ramphold-export", help="folder to write to (%(default)s)")
    _protocol(parser)
    _results(parser)
    parser.add_argument("--json", action="store_true", help="print what was written as one JSON object")


def _references(commands: Commands) -> None:
    parser = commands.add_parser(
        "references",
        help="the reference tables there are; a new one to type in, and a check of it",
        description="List the reference tables that come with the program. With FILE, check a table that was typed in, "
        "line by line: what cannot be read, and what looks like a slip of the key. With --new, write an empty one.",
    )
    parser.add_argument("files", metavar="FILE.csv", nargs="*", help="tables of your own")
    parser.add_argument("--new", metavar="FILE.csv", help="write an empty table to type in")


def _audit(commands: Commands) -> None:
    parser = commands.add_parser(
        "audit",
        help="how examiners work, from the curves of a whole archive",
        description="Judge every trial of an archive, a folder tree of session files, by one protocol, and compare "
        "examiners with all others within the same action and method. Results are saved, so that a second "
        "audit opens no trace; Ctrl-C loses nothing.",
    )
    parser.add_argument("archive", metavar="ARCHIVE", help="a folder of session files")
    parser.add_argument("--csv", metavar="DIR", help="write tables into this folder")
    parser.add_argument("--pdf", metavar="FILE", help="write pages to print")
    parser.add_argument("--coach", metavar="EXAMINER", help="write a coaching sheet for one examiner")
    parser.add_argument("--sheet", metavar="FILE", default="coaching.pdf", help="where to (%(default)s)")
    parser.add_argument("--blind", action="store_true", help="replace codes of people and names of files by numbers")
    parser.add_argument("--store", metavar="FILE", help="where measured results are saved (in the archive)")
    parser.add_argument("--processes", type=_whole(1), metavar="N", help="at once (as many as there are cores)")
    parser.add_argument("--cluster", metavar="ADDRESS", help="do the work on a Dask cluster, such as tls://host:8786")
    parser.add_argument("--tls-ca", metavar="FILE", help="of the cluster: certificate of who signed, PEM")
    parser.add_argument("--tls-cert", metavar="FILE", help="of the cluster: certificate of this program, PEM")
    parser.add_argument("--tls-key", metavar="FILE", help="of the cluster: the key to it, PEM")
    parser.add_argument("--language", choices=["en", "de"], default="en", help="of text, pages and sheet (%(default)s)")
    _protocol(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of text")


def _stored(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--rate", type=_above(0.0), metavar="HZ", help="sample rate of a CSV with force alone")
    parser.add_argument("--method", choices=["hand", "belt"], help="how a trace without a session was held")
    parser.add_argument("--examiner-limit", type=_above(0.0), metavar="N", help="force the examiner can hold, newtons")
    _protocol(parser)
    _unit(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of a table")


def _protocol(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--protocol", default="ramp-and-hold", metavar="NAME|FILE", help="limits to judge by (%(default)s)"
    )


def _results(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--results",
        default="standard",
        metavar="NAME|FILE",
        help="how trials are scored, sides compared and errors worked out: standard, peak, mean-of-best-second, or a "
        "file (%(default)s)",
    )


def _unit(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--unit", choices=["N", "kgf", "lbf"], default="N", help="of the tables (%(default)s)")


def _speed(text: str) -> float:
    return math.inf if text == "max" else _above(0.0)(text)


def _masses(text: str) -> tuple[float, ...]:
    try:
        masses = tuple(float(part) for part in text.split(","))
    except ValueError:
        masses = ()
    if len(set(masses)) < 2 or not all(0.0 <= mass < math.inf for mass in masses):
        raise argparse.ArgumentTypeError(f"must be at least two different masses in kg, none below 0, got {text}")
    return masses
