"""What leaves the program on paper or as a file: report, audit pages, export, pictures, text tables.

Each is content first (values and sentences), then a layout that decides nothing. Files appear whole or not at all.

In come judged sessions and audits; out come PDF, HTML, CSV, JSON, FHIR and PNG.
May import: model, session, words and the floors below; never a window or a command.

For notebooks: `plot_trial`.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ui.papers.picture import plot_trial as plot_trial

_HOMES = {
    "plot_trial": "ui.papers.picture",
}

__all__ = ["plot_trial"]


if not TYPE_CHECKING:  # else a misspelt name would pass the type checker

    def __getattr__(name: str) -> object:
        """Import a public name when it is first asked for, so that a start-up imports nothing that it does not need."""
        if name not in _HOMES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        return getattr(import_module(_HOMES[name]), name)

    def __dir__() -> list[str]:
        """Return the public names too, which a notebook completes."""
        return sorted({*globals(), *__all__})
