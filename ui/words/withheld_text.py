"""Why a measure is withheld, as a sentence."""

from __future__ import annotations

from analysis.trial.withheld import Reason
from ui.words.shown import gaps
from ui.words.words import Words


def withheld_sentence(reason: Reason, words: Words) -> str:
    """Return why a measure is withheld, without capital or full stop.

    Examples
    --------
    >>> from analysis.trial.withheld import slow_sensor
    >>> withheld_sentence(slow_sensor(1000.0, 250.0), Words())
    'needs 1000 Hz or more, the sensor gave 250 Hz'
    """
    return words(f"withheld.{reason.why}", **gaps(reason.values))
