"""What of a stream does not fit the profile of its sensor, as a sentence."""

from __future__ import annotations

from acquire.stream.recorder import StreamUnfit
from ui.words.words import Words


def unfit_sentence(told: StreamUnfit, words: Words) -> str:
    """Return what is wrong and what to try; that it fits again where nothing is wrong.

    Examples
    --------
    >>> unfit_sentence(StreamUnfit(None, port="COM3", profile="bridge-80"), Words())
    'what COM3 sends fits the profile bridge-80 again'
    """
    unfit = told.unfit
    if unfit is None:
        return words("line.fits", port=told.port, profile=told.profile)
    return words(
        f"line.unfit_{unfit.misfit.value}",
        port=told.port,
        profile=told.profile,
        damaged=unfit.damaged_pct,
        rate=unfit.rate_hz,
        nominal=unfit.nominal_hz,
    )
