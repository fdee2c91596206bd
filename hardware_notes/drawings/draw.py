"""The drawings of the hardware notes: ``python hardware_notes/drawings/draw.py`` writes them anew beside itself.

A drawing is a list of marks on a plain grid; what a mark means stands in its label, never in its colour alone.
"""

from __future__ import annotations

import math
from pathlib import Path
from xml.sax.saxutils import escape

INK, SOFT, BODY, WARN = "#1a1a1a", "#6b6b6b", "#f3f1ec", "#b03a2e"
THETA = "\N{GREEK SMALL LETTER THETA}"
SIZE = 13
"""Of letters, in pixels."""
PIN = 24
"""From one pin of a box to the next."""


class Drawing:
    """A drawing under way, `width` by `height` pixels, with what it shows in a sentence."""

    def __init__(self, width: int, height: int, about: str) -> None:
        self._marks: list[str] = []
        self._head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
            f'height="{height}" font-family="DejaVu Sans, sans-serif" font-size="{SIZE}" role="img">'
            f"<title>{escape(about)}</title>"
            f'<rect width="{width}" height="{height}" fill="#ffffff"/>'
        )

    def text(
        self, x: float, y: float, words: str, *, anchor: str = "start", ink: str = INK, bold: bool = False
    ) -> None:
        """Write some words; `y` is their middle."""
        weight = ' font-weight="bold"' if bold else ""
        where = f'x="{x:g}" y="{y + 0.35 * SIZE:g}" text-anchor="{anchor}"'
        self._marks.append(f'<text {where} fill="{ink}"{weight}>{escape(words)}</text>')

    def line(self, *points: tuple[float, float], ink: str = INK, width: float = 1.6, dashed: bool = False) -> None:
        """Draw straight lines from point to point."""
        path = " ".join(f"{x:g},{y:g}" for x, y in points)
        dash = ' stroke-dasharray="5 4"' if dashed else ""
        self._marks.append(f'<polyline points="{path}" fill="none" stroke="{ink}" stroke-width="{width}"{dash}/>')

    def shape(self, *points: tuple[float, float], fill: str = BODY, ink: str = INK) -> None:
        """Draw a closed shape."""
        path = " ".join(f"{x:g},{y:g}" for x, y in points)
        self._marks.append(f'<polygon points="{path}" fill="{fill}" stroke="{ink}" stroke-width="1.6"/>')

    def box(self, x: float, y: float, w: float, h: float, *titles: str, fill: str = BODY) -> None:
        """Draw a box with its title in its first lines."""
        self.shape((x, y), (x + w, y), (x + w, y + h), (x, y + h), fill=fill)
        for row, words in enumerate(titles):
            self.text(x + w / 2, y + 16 + 18 * row, words, anchor="middle", bold=row == 0)

    def dot(self, x: float, y: float, radius: float = 3.2, fill: str = INK) -> None:
        """Draw a dot: where lines are joined, a pin, a joint."""
        self._marks.append(f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="{fill}" stroke="{INK}"/>')

    def pin(self, x: float, y: float, name: str, *, side: str) -> None:
        """Draw a pin on the left or right edge of a box, with its name inside."""
        self.dot(x, y, 3.0, "#ffffff")
        inside = 9 if side == "left" else -9
        self.text(x + inside, y, name, anchor="start" if side == "left" else "end")

    def arrow(
        self, start: tuple[float, float], end: tuple[float, float], *, ink: str = INK, width: float = 2.2
    ) -> None:
        """Draw an arrow."""
        angle = math.atan2(end[1] - start[1], end[0] - start[0])
        back = [(end[0] - 11 * math.cos(angle + turn), end[1] - 11 * math.sin(angle + turn)) for turn in (0.4, -0.4)]
        self.line(start, end, ink=ink, width=width)
        self.shape(end, *back, fill=ink, ink=ink)

    def svg(self) -> str:
        """Return the drawing as a file's content."""
        return "\n".join([self._head, *self._marks, "</svg>", ""])


def resistor(drawing: Drawing, start: tuple[float, float], end: tuple[float, float], name: str, label: tuple) -> None:
    """Draw a resistor between two points, with its name beside it."""
    (x0, y0), (x1, y1) = start, end
    length = math.hypot(x1 - x0, y1 - y0)
    across = (-(y1 - y0) / length, (x1 - x0) / length)

    def at(part: float, side: float) -> tuple[float, float]:
        return x0 + part * (x1 - x0) + side * across[0], y0 + part * (y1 - y0) + side * across[1]

    half = 24 / length
    drawing.line(start, at(0.5 - half, 0))
    drawing.line(at(0.5 + half, 0), end)
    drawing.shape(at(0.5 - half, 8), at(0.5 + half, 8), at(0.5 + half, -8), at(0.5 - half, -8), fill="#ffffff")
    middle = at(0.5, 0)
    drawing.text(middle[0] + label[0], middle[1] + label[1], name, anchor="middle")


def bridge() -> Drawing:
    """The four resistors of a cell, and which of its wires is where."""
    d = Drawing(640, 330, "The bridge of a load cell: four gauges, two wires that feed it, two that carry its signal")
    top, right, bottom, left = (320, 50), (440, 165), (320, 280), (200, 165)
    resistor(d, top, right, "gauge +", (58, -10))
    resistor(d, right, bottom, "gauge \N{MINUS SIGN}", (58, 12))
    resistor(d, bottom, left, "gauge +", (-58, 12))
    resistor(d, left, top, "gauge \N{MINUS SIGN}", (-58, -10))
    for point in (top, right, bottom, left):
        d.dot(*point)
    d.line(top, (320, 24), (560, 24))
    d.text(568, 24, "E+")
    d.line(bottom, (320, 306), (560, 306))
    d.text(568, 306, "E\N{MINUS SIGN}")
    d.line(right, (560, 165))
    d.text(568, 165, "S+")
    d.line(left, (80, 165))
    d.text(72, 165, "S\N{MINUS SIGN}", anchor="end")
    return d


CELL = ("E+", "E\N{MINUS SIGN}", "S\N{MINUS SIGN}", "S+", "shield")
CONVERTER_OUT = ("VCC", "GND", "DOUT", "SCK", "RATE")
CONVERTER_IN = ("E+", "E\N{MINUS SIGN}", "A\N{MINUS SIGN}", "A+", "GND")


def cell_and_converter(d: Drawing, y: float) -> None:
    """Draw a cell and a converter with the five wires between them, and what to mind."""
    d.box(20, y, 120, 190, "load cell", "bridge")
    d.box(230, y, 190, 190, "bridge converter", "24 bits, 2 wires")
    for row, (cell, into) in enumerate(zip(CELL, CONVERTER_IN, strict=True)):
        at = y + 62 + PIN * row
        d.pin(140, at, cell, side="right")
        d.pin(230, at, into, side="left")
        d.line((143, at), (227, at), dashed=cell == "shield")
    d.text(20, y + 220, "Shield: to ground at the converter only.", ink=SOFT)
    d.text(20, y + 244, "RATE: lift it from what ties it low on the converter board.", ink=SOFT)


def wires(d: Drawing, y: float, pins: tuple[str, ...]) -> None:
    """Draw the wires from the converter to the pins of a board."""
    for row, (out, into) in enumerate(zip(CONVERTER_OUT, pins, strict=True)):
        at = y + 62 + PIN * row
        d.pin(420, at, out, side="right")
        d.pin(530, at, into, side="left")
        d.line((423, at), (527, at))


def usb() -> Drawing:
    """The sensor with a cable."""
    d = Drawing(980, 330, "Wiring of the sensor with a cable: cell, converter, 8-bit board, isolator, computer")
    y = 30
    cell_and_converter(d, y)
    d.box(530, y, 150, 190, "8-bit board", "16 MHz, 5 V")
    wires(d, y, ("5V", "GND", "8", "9", "10"))
    d.pin(680, y + 62, "USB", side="right")
    d.box(740, y + 30, 100, 64, "USB", "isolator")
    d.box(880, y + 30, 84, 64, "computer")
    d.line((683, y + 62), (740, y + 62))
    d.line((840, y + 62), (880, y + 62))
    d.line((860, y + 6), (860, 270), ink=WARN, dashed=True)
    d.text(850, 285, "a person may touch what is left of this line", anchor="end", ink=WARN)
    d.text(20, 298, "DOUT must be on pin 8: there the chip notes the time by itself.", ink=SOFT)
    return d


def radio() -> Drawing:
    """The sensor without a cable."""
    d = Drawing(860, 330, "Wiring of the sensor with a radio: cell, converter, board, battery, switch")
    y = 30
    cell_and_converter(d, y)
    d.box(530, y, 150, 190, "board with", "Bluetooth, 3.3 V")
    wires(d, y, ("3V3", "GND", "4", "5", "6"))
    d.box(740, y + 86, 100, 104, "LiPo cell", "protected", "3.7 V")
    d.pin(680, y + 62, "BAT", side="right")
    d.pin(680, y + 158, "GND", side="right")
    d.line((683, y + 62), (716, y + 62))
    d.dot(716, y + 62, 3.0, "#ffffff")
    d.line((716, y + 62), (744, y + 48))
    d.dot(748, y + 62, 3.0, "#ffffff")
    d.text(732, y + 30, "switch", anchor="middle")
    d.line((751, y + 62), (790, y + 62), (790, y + 86))
    d.line((683, y + 158), (740, y + 158))
    d.text(20, 298, "Charge it with nobody touching it: then it is on the charger's ground.", ink=WARN)
    return d


def geometry() -> Drawing:
    """Lever arm and off-axis angle."""
    d = Drawing(720, 330, "Where the pad is and how it points: lever arm L and angle off the perpendicular")
    d.shape((110, 98), (600, 104), (600, 136), (110, 142))
    d.dot(120, 120, 7.0, "#ffffff")
    d.text(120, 160, "joint centre", anchor="middle")
    d.text(320, 120, "limb", anchor="middle")
    d.line((120, 113), (120, 50), ink=SOFT, width=1.0)
    d.line((520, 103), (520, 50), ink=SOFT, width=1.0)
    d.arrow((320, 58), (122, 58), ink=SOFT, width=1.2)
    d.arrow((320, 58), (518, 58), ink=SOFT, width=1.2)
    d.text(320, 38, "lever arm L: torque = F L", anchor="middle")
    d.arrow((520, 136), (520, 290))
    d.text(532, 284, "F, across the limb")
    angle = math.radians(20)
    tip = (520 - 164 * math.sin(angle), 136 + 164 * math.cos(angle))
    d.line((520, 136), tip, ink=WARN, width=2.2, dashed=True)
    d.text(
        tip[0] - 8, tip[1], "axis of the sensor: it reads F cos \N{GREEK SMALL LETTER THETA}", anchor="end", ink=WARN
    )
    d.text(499, 242, THETA, anchor="middle", ink=WARN)
    return d


def weights() -> Drawing:
    """The rig for dead weights."""
    d = Drawing(700, 430, "Calibration with dead weights: beam, eye, cell, hanger and weights in one vertical line")
    d.box(60, 30, 580, 26, fill=BODY)
    d.text(80, 43, "beam that carries three times the load")
    d.line((80, 56), (80, 410))
    d.line((620, 56), (620, 410))
    d.line((40, 410), (660, 410), width=2.4)
    x = 350
    d.line((x, 56), (x, 100), width=2.2)
    d.dot(x, 78, 6.0, "#ffffff")
    d.text(x + 16, 78, "eye or shackle")
    d.box(x - 34, 100, 68, 60, "cell")
    d.line((x - 34, 130), (290, 130), (270, 118), (130, 118), ink=SOFT)
    d.text(130, 102, "cable, slack", ink=SOFT)
    d.line((x, 160), (x, 334), width=2.2)
    d.dot(x, 180, 6.0, "#ffffff")
    d.text(x + 16, 180, "eye or shackle")
    for row in range(4):
        d.box(x - 52, 230 + 26 * row, 104, 22, fill="#ffffff")
    d.text(x + 72, 262, "weights, weighed on")
    d.text(x + 72, 280, "a verified balance")
    d.shape((x - 62, 334), (x + 62, 334), (x + 62, 342), (x - 62, 342))
    d.box(x - 40, 384, 80, 26, "block", fill="#ffffff")
    d.text(x - 84, 364, "less than 5 cm to fall", anchor="end", ink=WARN)
    d.arrow((x - 78, 364), (x - 2, 364), ink=WARN, width=1.2)
    return d


def belt() -> Drawing:
    """The force path of a belt test."""
    d = Drawing(760, 310, "A belt test: anchor, strap, cell, strap and cuff in one line across the shin")
    y = 180
    d.shape((30, 60), (54, 60), (54, 250), (30, 250))
    d.text(30, 40, "anchor: wall rail or table leg")
    d.line((54, y), (250, y), width=4.0)
    d.dot(54, y, 6.0, "#ffffff")
    d.text(150, y - 18, "strap, no stretch", anchor="middle")
    d.box(250, y - 32, 110, 64, "cell", "in line")
    d.line((360, y), (580, y), width=4.0)
    d.text(460, y - 18, "strap", anchor="middle")
    d.shape((590, 40), (630, 40), (630, 240), (590, 240))
    d.dot(610, 58, 7.0, "#ffffff")
    d.text(642, 58, "knee")
    d.text(642, 110, "shin")
    d.shape((580, y - 26), (640, y - 26), (640, y + 26), (580, y + 26), fill="#ffffff")
    d.text(610, y + 82, "padded cuff round the shin", anchor="middle")
    d.line((610, y + 26), (610, y + 72), ink=SOFT, width=1.0)
    d.arrow((648, y), (712, y))
    d.text(652, y - 18, "pushes")
    d.text(305, 290, "one line, at a right angle to the shin; nothing else touches the cell", anchor="middle")
    return d


DRAWINGS = {
    "bridge": bridge,
    "usb": usb,
    "radio": radio,
    "geometry": geometry,
    "weights": weights,
    "belt": belt,
}


if __name__ == "__main__":
    for name, draw in DRAWINGS.items():
        (Path(__file__).parent / f"{name}.svg").write_text(draw().svg(), encoding="utf-8")
