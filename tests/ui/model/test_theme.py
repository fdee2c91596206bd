"""Colours: every text can be read, every mark can be seen, in light and in dark."""

import pytest

from ui.model.theme import DARK, LIGHT, Theme

TEXTS = ("text", "quiet", "cue", "good", "warn", "bad")
GROUNDS = ("window", "panel")
MARKS = ("curve", "focus", "quiet", "target")
FRAMES = ("border", "edge", "band")
"""What a ring of the focus takes the place of, or lies on."""

TEXT_LEAST = 4.5
"""WCAG 2.2, success criterion 1.4.3, level AA, for text of any size."""

MARK_LEAST = 3.0
"""WCAG 2.2, success criterion 1.4.11, for marks, frames and rings."""

both = pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)


def contrast(one, other):
    """Return the contrast ratio of two colours, 1 to 21: W3C, Web Content Accessibility Guidelines 2.2."""
    dim, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dim + 0.05)


def luminance(colour):
    red, green, blue = (linear(int(colour[i : i + 2], 16) / 255.0) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def linear(share):
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


@both
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("text", TEXTS)
def test_text_can_be_read_on_window_and_panel(theme, text, ground):
    assert contrast(getattr(theme, text), getattr(theme, ground)) >= TEXT_LEAST


@both
@pytest.mark.parametrize("text", TEXTS)
def test_text_can_be_read_on_the_band(theme, text):
    assert contrast(getattr(theme, text), theme.band) >= TEXT_LEAST


@both
@pytest.mark.parametrize("ground", [*GROUNDS, "band"])
@pytest.mark.parametrize("mark", MARKS)
def test_mark_can_be_seen(theme, mark, ground):
    assert contrast(getattr(theme, mark), getattr(theme, ground)) >= MARK_LEAST


@both
@pytest.mark.parametrize("frame", FRAMES)
def test_ring_of_the_focus_differs_from_the_frame_it_takes_the_place_of(theme, frame):
    # WCAG 2.2, success criterion 2.4.13: 3:1 between the same pixels in the focused and unfocused states
    assert contrast(theme.focus, getattr(theme, frame)) >= MARK_LEAST


@both
@pytest.mark.parametrize("ground", GROUNDS)
def test_frame_of_a_field_can_be_seen(theme, ground):
    assert contrast(theme.border, getattr(theme, ground)) >= MARK_LEAST


@both
def test_every_colour_is_red_green_and_blue(theme):
    for name in Theme.__slots__:
        if name != "name":
            colour = getattr(theme, name)
            assert len(colour) == 7
            assert colour[0] == "#"
            int(colour[1:], 16)


# The first three: W3C, Understanding WCAG 2.2, success criterion 1.4.11 "Non-text Contrast", captions of its
# figures, given to one place and sometimes cut, not rounded. The last: the lightest grey that passes on white, as
# it is commonly given, from memory.
@pytest.mark.parametrize(
    ("one", "other", "published", "within"),
    [
        ("#E5E5E5", "#6221EA", 5.6, 0.1),  # a light grey tick on a purple box
        ("#FFF000", "#FFFFFF", 1.2, 0.1),  # yellow on white
        ("#949494", "#FFFFFF", 3.0, 0.1),  # the grey of a ring on white
        ("#767676", "#FFFFFF", 4.54, 0.005),
    ],
)
def test_contrast_is_as_published(one, other, published, within):
    assert contrast(one, other) == pytest.approx(published, abs=within)


def test_contrast_goes_from_1_to_21_and_both_ways():
    # WCAG 2.2, definition of "contrast ratio": "can range from 1 to 21"
    assert contrast("#000000", "#ffffff") == contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#56b4e9", "#56b4e9") == 1.0


@both
def test_ground_of_the_side_bears_its_text_and_its_bar(theme):
    assert contrast(theme.window, theme.text) >= TEXT_LEAST
    assert contrast(theme.mark, theme.text) >= MARK_LEAST
