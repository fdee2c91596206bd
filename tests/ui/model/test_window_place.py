"""Where the window opens: as it was, and always within a screen that is there."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ui.model.window_place import Rect, WindowPlace, opening_rect

HD = Rect(x=0, y=0, width=1920, height=1080)
BESIDE = Rect(x=1920, y=0, width=1366, height=768)


def kept(x, y, width, height):
    return WindowPlace(rect=Rect(x=x, y=y, width=width, height=height))


def test_first_window_opens_in_the_middle():
    assert opening_rect(None, [HD]) == Rect(x=320, y=140, width=1280, height=800)


@pytest.mark.parametrize("screen", [(1366, 768), (1280, 720), (683, 384), (640, 360)])
def test_first_window_is_no_larger_than_the_screen(screen):
    found = opening_rect(None, [Rect(x=0, y=0, width=screen[0], height=screen[1])], title=24, border=4)
    assert found.width <= screen[0] - 8
    assert 24 <= found.y <= found.y + found.height <= screen[1] - 4


def test_window_opens_as_it_was_on_the_screen_it_was_on():
    assert opening_rect(kept(2000, 40, 1000, 700), [HD, BESIDE]) == Rect(x=2000, y=40, width=1000, height=700)


def test_screen_that_is_gone_is_not_opened_on():
    found = opening_rect(kept(2000, 40, 1000, 700), [HD])
    assert found == Rect(x=920, y=40, width=1000, height=700)


@given(
    st.builds(kept, *(st.integers(-4000, 4000),) * 2, *(st.integers(100, 4000),) * 2),
    st.sampled_from([[HD], [HD, BESIDE], [BESIDE]]),
)
def test_whole_window_is_on_one_screen(before, screens):
    found = opening_rect(before, screens, title=30, border=4)
    corners = [(found.x - 4, found.y - 30), (found.x + found.width + 3, found.y + found.height + 3)]
    assert any(all(screen.holds(*corner) for corner in corners) for screen in screens)
    assert opening_rect(WindowPlace(rect=found), screens, title=30, border=4) == found
