"""Numbers as people type them."""

from __future__ import annotations

import math


def parse_number(text: str) -> float | None:
    """Return the number in a field, by decimal point or comma; None for an empty field.

    Raises
    ------
    ValueError
        If it is none.

    Examples
    --------
    >>> parse_number(" 72,5 "), parse_number("")
    (72.5, None)
    """
    text = text.strip().replace(",", ".")
    if not text:
        return None
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"number must be finite, got {text}")
    return value


def shown_number(value: float | None, digits: int = 1) -> str:
    """Return a number as a field shows it: no more digits than it needs.

    Examples
    --------
    >>> shown_number(72.0), shown_number(72.46), shown_number(None)
    ('72', '72.5', '')
    """
    return "" if value is None else f"{value:.{digits}f}".rstrip("0").rstrip(".") if digits else f"{value:.0f}"
