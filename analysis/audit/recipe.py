"""By what an archive was measured: the limits and the program, as one text that changes with either."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from analysis.trial.protocol import Protocol

PACKAGES = ("acquire", "analysis")
"""All that can change a measure."""


def recipe_of(protocol: Protocol) -> str:
    """Return the recipe: hash of the protocol's limits and hash of the program's source.

    Examples
    --------
    >>> from analysis.trial.protocol import load_protocol
    >>> recipe = recipe_of(load_protocol())
    >>> len(recipe.split())
    2
    """
    return f"{protocol.hash} {program_hash()}"


@lru_cache
def program_hash() -> str:
    """Return the first 16 hexadecimal digits of the SHA-256 of the source of everything below the screen.

    Examples
    --------
    >>> len(program_hash()), program_hash() == program_hash()
    (16, True)
    """
    whole = hashlib.sha256()
    for package in PACKAGES:
        for file in _sources(files(package)):
            whole.update(file.read_bytes())
    return whole.hexdigest()[:16]


def _sources(folder: Traversable) -> list[Traversable]:
    inside = sorted(folder.iterdir(), key=lambda each: each.name)
    below = [file for each in inside if each.is_dir() for file in _sources(each)]
    return [each for each in inside if each.name.endswith((".py", ".toml"))] + below
