"""The small pictures of a report, drawn once for the PDF and for HTML, in black and grey."""

from __future__ import annotations

from functools import cache
from importlib import resources

from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect
from reportlab.lib.colors import Color, black, white
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from ui.papers.report.content import Bars, Chart, Curves, Lines

PLAIN, BOLD = "Ramphold-Sans", "Ramphold-Sans-Bold"
LINE = 8.5
"""Points from one line of a table to the next: bars lie beside the numbers of their side."""

DARK, PALE = Color(0.25, 0.25, 0.25), Color(0.72, 0.72, 0.72)
DASHES = (2.2, 1.4)


@cache
def register_fonts() -> None:
    """Make DejaVu Sans known, which comes along with Matplotlib and has every letter and mark that is used."""
    folder = resources.files("matplotlib") / "mpl-data" / "fonts" / "ttf"
    for name, file in ((PLAIN, "DejaVuSans.ttf"), (BOLD, "DejaVuSans-Bold.ttf")):
        with resources.as_file(folder / file) as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


def draw(chart: Chart, width: float) -> Drawing:
    """Return the picture of a chart, `width` points wide."""
    register_fonts()
    if isinstance(chart, Bars):
        return _bars(chart, width)
    return _curves(chart, width) if isinstance(chart, Curves) else _lines(chart, width)


def _bars(chart: Bars, width: float) -> Drawing:
    height = LINE * max(1, len(chart.bars))
    drawing = Drawing(width, height)
    for number, bar in enumerate(chart.bars):
        middle = height - LINE * (number + 0.5)
        long = width * min(1.0, bar.value / chart.top)
        box = (0.0, middle - 2.6, long, 5.2)
        drawing.add(Rect(*box, fillColor=white if bar.hatched else PALE, strokeColor=DARK, strokeWidth=0.5))
        if bar.hatched:
            _hatch(drawing, *box)
        if bar.reach is not None:
            _whisker(drawing, middle, long, width * bar.reach / chart.top, width)
    drawing.add(Line(0, 0, 0, height, strokeColor=black, strokeWidth=0.6))
    return drawing


def _hatch(drawing: Drawing, x: float, y: float, long: float, high: float) -> None:
    """Draw slanting lines inside a box, cut off at its ends."""
    at = x - high + 1.0
    while at < x + long:
        low, top = max(at, x), min(at + high, x + long)
        if top > low:
            drawing.add(Line(low, y + low - at, top, y + top - at, strokeColor=DARK, strokeWidth=0.35))
        at += 3.0


def _whisker(drawing: Drawing, middle: float, at: float, reach: float, width: float) -> None:
    """Draw plus and minus about the end of a bar; an end without a cross stroke lies outside the picture."""
    low, high = max(0.0, at - reach), min(width, at + reach)
    drawing.add(Line(low, middle, high, middle, strokeColor=black, strokeWidth=0.7))
    for end, seen in ((low, at - reach >= 0.0), (high, at + reach <= width)):
        if seen:
            drawing.add(Line(end, middle - 1.8, end, middle + 1.8, strokeColor=black, strokeWidth=0.7))


def _curves(chart: Curves, width: float) -> Drawing:
    height = 2.0 * LINE
    drawing = Drawing(width, height)
    drawing.add(Line(0, 1.0, width, 1.0, strokeColor=PALE, strokeWidth=0.4))
    times = [second for curve in chart.curves for second in curve.seconds]
    if not times:
        return drawing
    first, last = min(times), max(times)
    for curve in chart.curves:
        points = [
            place
            for second, share in zip(curve.seconds, curve.share, strict=True)
            for place in (width * (second - first) / ((last - first) or 1.0), 1.0 + (height - 2.0) * max(share, -0.05))
        ]
        drawing.add(_path(points, dashed=curve.dashed))
    return drawing


def _lines(chart: Lines, width: float) -> Drawing:
    height = 2.0 * LINE
    drawing = Drawing(width, height)
    drawing.add(Line(0, 1.0, width, 1.0, strokeColor=PALE, strokeWidth=0.4))
    months = [month for line in chart.lines for month in line.months]
    top = max((value for line in chart.lines for value in line.values), default=1.0) or 1.0
    last = max(months, default=1.0) or 1.0
    for line in chart.lines:
        places = [
            (2.0 + (width - 4.0) * month / last, 1.0 + (height - 4.0) * value / top)
            for month, value in zip(line.months, line.values, strict=True)
        ]
        drawing.add(_path([each for place in places for each in place], dashed=line.dashed))
        for x, y in places:
            fill = white if line.dashed else DARK
            drawing.add(Rect(x - 1.1, y - 1.1, 2.2, 2.2, fillColor=fill, strokeColor=DARK, strokeWidth=0.5))
    return drawing


def _path(points: list[float], *, dashed: bool) -> PolyLine:
    return PolyLine(
        points,
        strokeColor=black if dashed else DARK,
        strokeWidth=0.75,
        strokeDashArray=list(DASHES) if dashed else None,
        fillColor=None,
    )


def as_svg(chart: Chart, width: float) -> str:
    """Return a chart as an SVG document."""
    from reportlab.graphics import renderSVG  # noqa: PLC0415 (only the page of HTML needs it)

    text: str = renderSVG.drawToString(draw(chart, width))
    # the renderer writes Python's None, which no reader knows: an open line would be filled with black
    return text[text.index("<svg") :].replace("fill: None", "fill: none")
