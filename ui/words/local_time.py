"""The wall clock, for what is signed with a time."""

from __future__ import annotations

from datetime import UTC, datetime


def local_now() -> datetime:
    """Return the time here, with its zone."""
    return datetime.now(UTC).astimezone()
