"""How a Bluetooth sensor is doing, in words: the strength of its signal and its battery."""

from __future__ import annotations

from acquire.links.base import BluetoothState
from ui.words.words import Words

GOOD_DBM, FAIR_DBM = -70, -85
"""Common practice, no source: above the first nothing is lost, below the second a hand in the way breaks the link."""
LOW_PCT = 15


def signal_text(dbm: int | None, words: Words) -> str:
    """Return what the strength of a signal means.

    Parameters
    ----------
    dbm : int or None
        Received strength; None for a sensor that is connected, and so was not heard.

    Examples
    --------
    >>> signal_text(-61, Words()), signal_text(None, Words())
    ('signal good (-61 dBm)', 'connected already')
    """
    if dbm is None:
        return words("radio.connected")
    key = "good" if dbm >= GOOD_DBM else "fair" if dbm >= FAIR_DBM else "weak"
    return words(f"radio.{key}", dbm=dbm)


def bluetooth_text(state: BluetoothState | None, words: Words) -> str:
    """Return signal and battery of an open sensor, as far as they are known; nothing for one by cable.

    Examples
    --------
    >>> bluetooth_text(BluetoothState(signal_dbm=-88, battery_pct=9), Words())
    'signal weak (-88 dBm), battery charge 9 %: charge it'
    """
    if state is None:
        return ""
    signal = "" if state.signal_dbm is None else signal_text(state.signal_dbm, words)
    return ", ".join(part for part in (signal, _battery(state.battery_pct, words)) if part)


def _battery(pct: int | None, words: Words) -> str:
    if pct is None:
        return ""
    return words("radio.battery_low" if pct <= LOW_PCT else "radio.battery", pct=pct)
