"""What can go wrong in the analysis.

::

    AnalysisError
    ├── ProtocolError      a protocol file that cannot be used
    ├── ActionsError       an actions file that cannot be used
    ├── SettingsError      a file of result settings or of ratios that cannot be used
    ├── TableError         a table of references or of published errors that cannot be used
    └── CheckLimitsError   a file of limits for sensor checks that cannot be used

A trial that breaks the protocol is no error: its faults are values (`analysis.trial.faults`).
"""

from __future__ import annotations


class AnalysisError(Exception):
    """Base of all errors of this package."""


class ProtocolError(AnalysisError):
    """A protocol file that cannot be used."""


class ActionsError(AnalysisError):
    """An actions file that cannot be used."""


class SettingsError(AnalysisError):
    """A file of result settings or of ratios that cannot be used."""


class TableError(AnalysisError):
    """A table of references or of published errors that cannot be used."""


class CheckLimitsError(AnalysisError):
    """A file of limits for sensor checks that cannot be used."""
