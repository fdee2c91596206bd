"""The test vectors of the wire formats, as hardware_notes hands them on."""

import tomllib
from pathlib import Path

import acquire
from acquire.decoders import Lines, Packet

NOTES = Path(acquire.__path__[0]).parent / "hardware_notes"
FORMATS = NOTES / "wire_formats.md"
VECTORS = tomllib.loads((NOTES / "wire_vectors.toml").read_text(encoding="utf-8"))


def named(kind):
    """Vectors of a kind by their names."""
    return {vector["name"]: vector for vector in VECTORS[kind]}


def packet(vector):
    """What a decoder makes of it."""
    return Packet(vector["sequence"], vector["tick"], tuple(vector["counts"]))


def lines(vector):
    """What a decoder makes of it."""
    counts, sequence, tick_s = ([vector[key]] if key in vector else None for key in ("counts", "sequence", "tick_s"))
    return Lines(counts, sequence, tick_s)


def specified(wire):
    """Whether some bytes stand in the specification."""
    return f"`{wire}`" in FORMATS.read_text(encoding="utf-8")
