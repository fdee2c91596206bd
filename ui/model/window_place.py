"""Where the window was on the screen, and where it opens: always within a screen that is there."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

USUAL = 1280, 800
"""Size of the first window, pixels of the system."""


class Rect(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A part of the desktop, pixels of the system."""

    x: int
    y: int
    width: int
    height: int

    def holds(self, x: int, y: int) -> bool:
        """Tell whether a point lies in it."""
        return self.x <= x < self.x + self.width and self.y <= y < self.y + self.height


class WindowPlace(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the window was when it was closed."""

    rect: Rect
    """Of the window as it was before it covered the screen."""
    full_screen: bool = False
    maximised: bool = False


def opening_rect(kept: WindowPlace | None, screens: Sequence[Rect], *, title: int = 0, border: int = 0) -> Rect:
    """Return where the window opens: as it was, but no larger than the screen, and all of it on one.

    Parameters
    ----------
    kept : WindowPlace or None
        How it was; None the first time, when it opens in the middle of the first screen.
    screens : sequence of Rect
        What each screen has for windows, the first one first; at least one.
    title, border : int
        Height of the title bar above the window, and width of the frame on its other sides, pixels.

    Examples
    --------
    >>> screen = Rect(x=0, y=0, width=683, height=384)
    >>> opening_rect(None, [screen], title=24)
    Rect(x=0, y=24, width=683, height=360)
    """
    screen = screens[0] if kept is None else _screen_of(kept.rect, screens)
    room = Rect(
        x=screen.x + border,
        y=screen.y + title,
        width=screen.width - 2 * border,
        height=screen.height - title - border,
    )
    width, height = USUAL if kept is None else (kept.rect.width, kept.rect.height)
    width, height = min(width, room.width), min(height, room.height)
    right, bottom = room.x + room.width - width, room.y + room.height - height
    if kept is None:
        return Rect(x=(room.x + right) // 2, y=(room.y + bottom) // 2, width=width, height=height)
    x, y = min(max(room.x, kept.rect.x), right), min(max(room.y, kept.rect.y), bottom)
    return Rect(x=x, y=y, width=width, height=height)


def _screen_of(rect: Rect, screens: Sequence[Rect]) -> Rect:
    """Return the screen that has the middle of the window, the first one where none has."""
    x, y = rect.x + rect.width // 2, rect.y + rect.height // 2
    return next((screen for screen in screens if screen.holds(x, y)), screens[0])
