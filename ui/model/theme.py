"""The colours of the window, light and dark, and how well they can be told apart.

Marks are from Okabe and Ito 2008, Color Universal Design, darkened or lightened where text needs it; no
colour carries meaning alone. Every text colour stands out from what it lies on by 4.5 to 1 at least.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """Colours as ``#rrggbb``."""

    name: str
    window: str
    panel: str
    edge: str
    """Lines and grids; not for text."""
    border: str
    """Frames of fields and buttons: seen against the ground, and the ring of the focus against them."""
    text: str
    quiet: str
    """Text of less weight."""
    cue: str
    curve: str
    band: str
    """Fill of the wanted band, under curve and text."""
    target: str
    """Lines and words of what is asked of an effort."""
    good: str
    warn: str
    bad: str
    focus: str
    mark: str
    """A mark on the ground of the text's colour, where light and dark change places."""


DARK = Theme(
    name="dark",
    window="#14171b",
    panel="#1e242b",
    edge="#3a4550",
    border="#697683",
    text="#f2f5f8",
    quiet="#a9b6c2",
    cue="#f0e442",
    curve="#56b4e9",
    band="#173a4d",
    target="#f0e442",
    good="#2fc79a",
    warn="#f0a93a",
    bad="#ff8a5c",
    focus="#b4e2ff",
    mark="#0072b2",
)

LIGHT = Theme(
    name="light",
    window="#eef1f4",
    panel="#ffffff",
    edge="#c3ccd4",
    border="#7c8792",
    text="#14171b",
    quiet="#4a5763",
    cue="#0b4f7d",
    curve="#0072b2",
    band="#d6eaf6",
    target="#0b4f7d",
    good="#00684c",
    warn="#855400",
    bad="#a83f00",
    focus="#003a5d",
    mark="#56b4e9",
)
