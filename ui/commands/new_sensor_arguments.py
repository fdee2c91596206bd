"""What can be typed after `ramphold sensors --new`."""

from __future__ import annotations

import argparse

from ui.commands.argument_types import above, command_text, profile_name, whole_number

NEW_SENSOR = (
    *("--port", "--capture", "--bluetooth", "--out", "--keep", "--name", "--title", "--baud", "--rate", "--rated"),
    *("--counts-per-newton", "--unit", "--weight", "--start", "--stop", "--yes"),
)
"""Options that make sense with `--new` only."""


def new_sensor_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `sensors --new`."""
    new = parser.add_argument_group("a sensor that nobody has described")
    new.add_argument("--new", action="store_true", help="look at what it sends, and propose a profile with reasons")
    new.add_argument("--port", help="the serial port it is on; with --bluetooth its name or address")
    new.add_argument("--bluetooth", action="store_true", help="it is a Bluetooth sensor (Bluetooth Low Energy)")
    new.add_argument("--capture", metavar="FILE", help="or a file of what it sent: bytes alone, or a Ramphold journal")
    new.add_argument("--out", metavar="FILE", help="write the profile here (NAME.toml); asks before")
    new.add_argument("--keep", metavar="FILE", help="keep what it sends in this journal, to look at it again")
    new.add_argument("--yes", action="store_true", help="ask nothing: begin at once, and write the profile")
    known = parser.add_argument_group("what you know of it already")
    known.add_argument("--name", type=profile_name, help="of the profile (that of the file)")
    known.add_argument("--title", help="what it is, in one line")
    known.add_argument(
        "--baud", type=whole_number(1), metavar="N", help="bits per second; otherwise the usual ones are tried"
    )
    known.add_argument("--rate", type=above(0.0), metavar="HZ", help="samples per second")
    known.add_argument("--rated", type=above(0.0), metavar="N", help="the most it may carry, newtons")
    known.add_argument("--counts-per-newton", type=above(0.0), metavar="X", help="its sensitivity, without sign")
    known.add_argument("--unit", choices=["N", "kgf", "lbf"], help="of numbers with a point")
    known.add_argument("--weight", type=above(0.0), metavar="KG", help="a known mass, to be hung on it when asked")
    known.add_argument(
        "--start", type=command_text, default="", metavar="TEXT", help="what makes it send, such as 'start\\n'"
    )
    known.add_argument("--stop", type=command_text, default="", metavar="TEXT", help="what makes it stop")


def wrong_new_sensor(options: argparse.Namespace) -> str | None:
    """Return what makes no sense together; None where all does."""
    told = [name for name in NEW_SENSOR if getattr(options, name[2:].replace("-", "_")) not in (None, False, "")]
    if not options.new:
        return f"{told[0]} is for --new, which looks at an unknown sensor" if told else None
    if (options.port is None) == (options.capture is None):
        return "--new needs --port, where the sensor is, or --capture, a file of what it sent"
    if options.bluetooth and (options.capture or options.baud):
        return "--bluetooth goes with --port alone: a Bluetooth sensor has no baud rate"
    if options.capture and (options.weight or options.keep):
        return "--weight and --keep are for a sensor that is there, with --port"
    return None
