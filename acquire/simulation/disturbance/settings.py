"""How bad a link is: a TOML file, or a value made in code.

Each kind of disturbance happens by chance, to a share of the pieces, or by schedule, at given seconds of the
stream, or both. What a piece is, `Disturbance.pieces` says. A kind that is left out does not happen.
"""

from __future__ import annotations

import math
from importlib.resources import files
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from acquire.errors import DisturbanceError
from acquire.files.named_file import named_or_path
from acquire.files.tomlfile import parse_toml

Share = Annotated[float, Meta(ge=0.0, le=1.0)]
Seconds = Annotated[float, Meta(ge=0.0, le=3600.0)]
Few = Annotated[int, Meta(ge=1, le=1000)]
PartsPerMillion = Annotated[float, Meta(ge=-100_000.0, le=100_000.0)]
Change = Literal["flip", "replace", "lose", "add"]


class Chance(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How often something happens; by default never."""

    rate: Share = 0.0
    """Share of the pieces."""
    at_s: tuple[Seconds, ...] = ()
    """Seconds of the stream: it happens to the first piece that comes then."""

    @property
    def never(self) -> bool:
        """Whether it cannot happen."""
        return self.rate == 0.0 and not self.at_s


class Split(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A piece is cut in two somewhere, and what follows may happen to its parts."""


class Drop(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Pieces are lost."""

    run: Few = 1
    """So many in a row."""


class Corrupt(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Bytes of a piece are wrong."""

    changes: Few = 1
    """So many times in a piece ..."""
    kinds: Annotated[tuple[Change, ...], Meta(min_length=1)] = ("flip", "replace", "lose", "add")
    """... one of these: a bit is turned over, a byte is another one, is missing, or is one too many."""


class Duplicate(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A piece comes a second time."""

    reach: Annotated[int, Meta(ge=0, le=1000)] = 0
    """So many pieces, at most, come between the two."""


class Reorder(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A piece is overtaken by later ones."""

    reach: Few = 3
    """So many, at most."""


class Delay(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A piece, and all behind it, comes later; nothing overtakes it."""

    up_to_s: Seconds = 0.05
    """Each delay up to this is as likely as any other."""


class Stall(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Nothing comes for a while, and then everything at once."""

    for_s: Seconds = 1.0


class Burst(Chance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Pieces are collected and come together."""

    pieces: Few = 8
    """So many."""


class Drift(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The clock that stamps the arrivals is not the sensor's: it runs fast, and wanders as it warms up."""

    ppm: PartsPerMillion = 0.0
    """How much too fast, in parts per million: 100 is 6 ms a minute."""
    wander_ppm: PartsPerMillion = 0.0
    """The amplitude of a sine that is added to it."""
    wander_s: Annotated[float, Meta(ge=1.0, le=86_400.0)] = 600.0
    """The period of the sine."""

    def stamp(self, seconds: float) -> float:
        """Return what the clock shows after so many true seconds.

        Examples
        --------
        >>> round(Drift(ppm=100.0).stamp(60.0), 6)
        60.006
        """
        turn = 2.0 * math.pi / self.wander_s
        wandered = self.wander_ppm / turn * (1.0 - math.cos(turn * seconds))
        return seconds + 1e-6 * (self.ppm * seconds + wandered)


class Disturbance(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a bad link does to a stream; by default nothing."""

    name: str = ""
    title: str = ""
    """What it is like, in one line."""
    seed: int = 1
    """Each seed is another course of events, and always the same one."""
    pieces: Literal["frames", "chunks"] = "frames"
    """What is lost, doubled, delayed ... as one: a line or packet with its end, or what arrived together."""
    split: Split = Split()
    drop: Drop = Drop()
    corrupt: Corrupt = Corrupt()
    duplicate: Duplicate = Duplicate()
    reorder: Reorder = Reorder()
    delay: Delay = Delay()
    stall: Stall = Stall()
    burst: Burst = Burst()
    drift: Drift = Drift()

    @property
    def is_none(self) -> bool:
        """Whether nothing is disturbed at all."""
        kinds = (self.split, self.drop, self.corrupt, self.duplicate, self.reorder, self.delay, self.stall, self.burst)
        return self.drift == Drift() and all(kind.never for kind in kinds)


def load_disturbance(name_or_path: str) -> Disturbance:
    """Return the disturbance of a name, or from a TOML file.

    Parameters
    ----------
    name_or_path : str
        A name that the program comes with, or the path of a file.

    Raises
    ------
    DisturbanceError
        If there is neither, or the file is not right; says the file and the key.

    Examples
    --------
    >>> load_disturbance("busy-computer").drop.never
    True
    """
    folder = files("acquire") / "data" / "disturbances"
    path = named_or_path(name_or_path, folder=folder, kind="disturbance", error=DisturbanceError)
    return parse_toml(path, Disturbance, error=DisturbanceError)
