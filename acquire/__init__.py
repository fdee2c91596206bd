"""From bytes on a link to newtons on a time base and trials on disk.

For scripts and notebooks: `read_session`, `read_trace` and the values that they return; see ``analysis/README.md``.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from acquire.storage.csv_trace import read_trace as read_trace
    from acquire.storage.session_file import read_session as read_session
    from acquire.values.records import Session as Session
    from acquire.values.records import Trace as Trace
    from acquire.values.records import Trial as Trial

_HOMES = {
    "read_trace": "acquire.storage.csv_trace",
    "read_session": "acquire.storage.session_file",
    "Session": "acquire.values.records",
    "Trace": "acquire.values.records",
    "Trial": "acquire.values.records",
}

__all__ = ["Session", "Trace", "Trial", "read_session", "read_trace"]


if not TYPE_CHECKING:  # else a misspelt name would pass the type checker

    def __getattr__(name: str) -> object:
        """Import a public name when it is first asked for, so that a start-up imports nothing that it does not need."""
        if name not in _HOMES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        return getattr(import_module(_HOMES[name]), name)

    def __dir__() -> list[str]:
        """Return the public names too, which a notebook completes."""
        return sorted({*globals(), *__all__})
