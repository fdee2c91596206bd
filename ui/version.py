"""Which version of the program is installed."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def program_version() -> str:
    """Return the version that is installed."""
    try:
        return version("ramphold")
    except PackageNotFoundError:
        return "not installed"
