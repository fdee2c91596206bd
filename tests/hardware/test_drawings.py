"""The drawings of the hardware notes: up to date, and nothing lies on a word."""

import re
import runpy
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import pytest
import wire_vectors
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

FOLDER = wire_vectors.NOTES / "drawings"
DRAWN = runpy.run_path(str(FOLDER / "draw.py"))
names = pytest.mark.parametrize("name", DRAWN["DRAWINGS"])
SVG = "{http://www.w3.org/2000/svg}"


def test_every_drawing_is_shown_on_a_page():
    pages = "".join(page.read_text(encoding="utf-8") for page in wire_vectors.NOTES.glob("*.md"))
    assert {path.stem for path in FOLDER.glob("*.svg")} == set(DRAWN["DRAWINGS"])
    for name in DRAWN["DRAWINGS"]:
        assert re.search(rf"!\[[^]]+\]\(drawings/{name}\.svg\)", pages)


@names
def test_drawing_is_what_the_script_draws(name):
    assert (FOLDER / f"{name}.svg").read_text(encoding="utf-8") == DRAWN["DRAWINGS"][name]().svg()


def words(root):
    """The boxes that words fill, with what they say: (left, top, right, bottom)."""
    for element in root.iter(f"{SVG}text"):
        font = FontProperties(family="DejaVu Sans", weight=element.get("font-weight", "normal"))
        wide = TextPath((0, 0), element.text, size=13, prop=font).get_extents().width
        x, y = float(element.get("x")), float(element.get("y"))
        left = x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[element.get("text-anchor")]
        yield element.text, (left, y - 10.0, left + wide, y + 3.0)


def points(element):
    return [tuple(map(float, pair.split(","))) for pair in element.get("points").split()]


def strokes(root):
    """Every straight line: of lines, and of the edges of shapes."""
    for element in root.iter(f"{SVG}polyline"):
        path = points(element)
        yield from pairwise(path)
    for element in root.iter(f"{SVG}polygon"):
        path = points(element)
        yield from zip(path, [*path[1:], path[0]], strict=True)


def meets(stroke, box, steps=200):
    (x0, y0), (x1, y1) = stroke
    left, top, right, bottom = box
    return any(
        left < x0 + part * (x1 - x0) < right and top < y0 + part * (y1 - y0) < bottom
        for part in (step / steps for step in range(steps + 1))
    )


@names
def test_words_lie_apart_and_within_the_drawing(name):
    root = ET.fromstring(DRAWN["DRAWINGS"][name]().svg())
    placed = list(words(root))
    assert len(placed) > 3
    for said, (left, top, right, bottom) in placed:
        assert left >= 4, said
        assert top >= 4, said
        assert right <= float(root.get("width")) - 4, said
        assert bottom <= float(root.get("height")) - 4, said
    for (one, a), (other, b) in combinations(placed, 2):
        assert a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1], f"{one!r} lies on {other!r}"


@names
def test_no_line_goes_through_a_word(name):
    root = ET.fromstring(DRAWN["DRAWINGS"][name]().svg())
    crossed = [said for said, box in words(root) if any(meets(stroke, box) for stroke in strokes(root))]
    assert crossed == []


@names
def test_drawing_says_what_it_shows(name):
    root = ET.fromstring(DRAWN["DRAWINGS"][name]().svg())
    assert len(root.find(f"{SVG}title").text) > 30
