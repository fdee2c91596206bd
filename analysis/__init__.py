"""From traces to measures and verdicts: pure functions, no clock, no port, no screen.

For scripts and notebooks: the names below; ``analysis/README.md`` shows them at work.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.stored.archive_table import read_archive as read_archive
    from analysis.stored.results import summarise_session as summarise_session
    from analysis.stored.traces import read_trials as read_trials
    from analysis.trial.judged_trial import judge_session as judge_session
    from analysis.trial.protocol import load_protocol as load_protocol
    from analysis.trial.verdict import judge as judge

_HOMES = {
    "read_archive": "analysis.stored.archive_table",
    "judge_session": "analysis.trial.judged_trial",
    "summarise_session": "analysis.stored.results",
    "read_trials": "analysis.stored.traces",
    "load_protocol": "analysis.trial.protocol",
    "judge": "analysis.trial.verdict",
}

__all__ = ["judge", "judge_session", "load_protocol", "read_archive", "read_trials", "summarise_session"]


if not TYPE_CHECKING:  # else a misspelt name would pass the type checker

    def __getattr__(name: str) -> object:
        """Import a public name when it is first asked for, so that a start-up imports nothing that it does not need."""
        if name not in _HOMES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        return getattr(import_module(_HOMES[name]), name)

    def __dir__() -> list[str]:
        """Return the public names too, which a notebook completes."""
        return sorted({*globals(), *__all__})
