"""The small pictures: a bar is as long as its value, a whisker as its uncertainty, a line as high as its score."""

import pytest
from reportlab.graphics.shapes import Line as Stroke
from reportlab.graphics.shapes import PolyLine, Rect

from ui.papers.report.charts import as_svg, draw
from ui.papers.report.content import Bar, Bars, Curve, Curves, Line, Lines

WIDTH = 60.0


def of(chart, kind, width=WIDTH):
    return [shape for shape in draw(chart, width).contents if isinstance(shape, kind)]


def bars(*made, top=200.0):
    return Bars(bars=made, top=top, about="")


def whiskers(chart):
    """Horizontal strokes, then the cross strokes at their ends."""
    strokes = [s for s in of(chart, Stroke) if not (s.x1 == s.x2 == 0 and s.y1 == 0)]
    return [s for s in strokes if s.y1 == s.y2], [s for s in strokes if s.x1 == s.x2]


def test_bar_is_its_share_of_the_top_and_never_longer_than_the_picture():
    boxes = of(bars(*(Bar(label="", value=value) for value in (0.0, 50.0, 200.0, 300.0))), Rect)
    assert [box.width for box in boxes] == [0.0, 15.0, 60.0, 60.0]
    assert {box.x for box in boxes} == {0.0}


def test_first_bar_is_on_top_and_each_is_centred_in_its_line():
    boxes = of(bars(Bar(label="", value=1.0), Bar(label="", value=2.0)), Rect)
    assert draw(bars(Bar(label="", value=1.0), Bar(label="", value=2.0)), WIDTH).height == 17.0
    assert [box.y + box.height / 2 for box in boxes] == pytest.approx([12.75, 4.25])


def test_picture_without_bars_keeps_its_height():
    assert draw(bars(), WIDTH).height == 8.5


def test_whisker_reaches_to_both_sides_with_cross_strokes():
    (level,), ends = whiskers(bars(Bar(label="", value=100.0, reach=20.0)))
    assert (level.x1, level.x2, level.y1) == pytest.approx((24.0, 36.0, 4.25))
    assert [(end.x1, end.y1, end.y2) for end in ends] == [
        pytest.approx((24.0, 2.45, 6.05)),
        pytest.approx((36.0, 2.45, 6.05)),
    ]


@pytest.mark.parametrize(
    ("value", "reach", "span", "ends"),
    [
        (100.0, 100.0, (0.0, 60.0), [0.0, 60.0]),  # just within
        (100.0, 101.0, (0.0, 60.0), []),
        (180.0, 40.0, (42.0, 60.0), [42.0]),
        (20.0, 40.0, (0.0, 18.0), [18.0]),
    ],
)
def test_end_outside_the_picture_has_no_cross_stroke(value, reach, span, ends):
    (level,), crosses = whiskers(bars(Bar(label="", value=value, reach=reach)))
    assert (level.x1, level.x2) == pytest.approx(span)
    assert [cross.x1 for cross in crosses] == pytest.approx(ends)


def test_bar_without_uncertainty_has_no_whisker():
    assert whiskers(bars(Bar(label="", value=100.0))) == ([], [])


def test_hatching_slants_at_45_degrees_within_its_box():
    chart = bars(Bar(label="", value=100.0, hatched=True))
    (box,) = of(chart, Rect)
    slants = [s for s in of(chart, Stroke) if s.x1 != s.x2 and s.y1 != s.y2]
    assert len(slants) == 12  # a stroke each 3 points from x = -4.2 on, as long as one begins before 30
    for stroke in slants:
        assert stroke.x2 - stroke.x1 == pytest.approx(stroke.y2 - stroke.y1)
        assert stroke.x2 > stroke.x1
        assert box.x <= stroke.x1 <= stroke.x2 <= box.x + box.width
        assert box.y <= stroke.y1 + 1e-9
        assert stroke.y2 <= box.y + box.height + 1e-9
    assert [slants[n + 1].x1 - slants[n].x1 for n in (2, 3)] == pytest.approx([3.0, 3.0])
    plain = bars(Bar(label="", value=100.0))
    assert of(chart, Rect)[0].fillColor != of(plain, Rect)[0].fillColor


def points(path):
    return list(zip(path.points[::2], path.points[1::2], strict=True))


def test_curve_fills_the_picture_from_first_to_last_second():
    chart = Curves(
        curves=(
            Curve(seconds=(1.0, 2.0, 5.0), share=(0.0, 0.5, 1.0)),
            Curve(seconds=(1.0, 3.0), share=(-0.2, 0.2), dashed=True),
        ),
        about="",
    )
    first, second = of(chart, PolyLine)
    assert points(first) == [pytest.approx(each) for each in ((0.0, 1.0), (15.0, 8.5), (60.0, 16.0))]
    assert points(second) == [pytest.approx(each) for each in ((0.0, 0.25), (30.0, 4.0))]  # no deeper than a twentieth
    assert (first.strokeDashArray, bool(second.strokeDashArray)) == (None, True)
    assert first.fillColor is second.fillColor is None


def test_curve_of_one_point_and_no_curve_at_all_are_drawn():
    assert points(of(Curves(curves=(Curve(seconds=(2.0,), share=(0.5,)),), about=""), PolyLine)[0]) == [(0.0, 8.5)]
    assert of(Curves(curves=(), about=""), PolyLine) == []
    assert draw(Curves(curves=(), about=""), WIDTH).height == 17.0


def test_scores_over_months_begin_at_nought_and_have_a_mark_each():
    chart = Lines(
        lines=(
            Line(months=(0.0, 1.0, 4.0), values=(20.0, 10.0, 40.0)),
            Line(months=(0.0, 4.0), values=(0.0, 30.0), dashed=True),
        ),
        about="",
    )
    first, second = of(chart, PolyLine)
    assert points(first) == [pytest.approx(each) for each in ((2.0, 7.5), (16.0, 4.25), (58.0, 14.0))]
    assert points(second) == [pytest.approx(each) for each in ((2.0, 1.0), (58.0, 10.75))]
    marks = of(chart, Rect)
    assert [(box.x + box.width / 2, box.y + box.height / 2) for box in marks] == [
        pytest.approx(each) for each in (*points(first), *points(second))
    ]
    assert {box.width for box in marks} == {box.height for box in marks} == {2.2}
    assert len({str(box.fillColor) for box in marks}) == 2
    assert (first.strokeDashArray, bool(second.strokeDashArray)) == (None, True)


def test_scores_of_nothing_and_of_one_day_are_drawn():
    assert of(Lines(lines=(), about=""), PolyLine) == []
    (path,) = of(Lines(lines=(Line(months=(0.0, 0.0), values=(0.0, 0.0)),), about=""), PolyLine)
    assert points(path) == [(2.0, 1.0), (2.0, 1.0)]


def test_base_line_is_drawn_under_curves_and_scores_and_beside_bars():
    for chart in (Curves(curves=(), about=""), Lines(lines=(), about="")):
        (stroke,) = of(chart, Stroke)
        assert (stroke.x1, stroke.x2, stroke.y1, stroke.y2) == (0, WIDTH, 1.0, 1.0)
    (stroke,) = of(bars(Bar(label="", value=1.0)), Stroke)
    assert (stroke.x1, stroke.x2, stroke.y1, stroke.y2) == (0, 0, 0, 8.5)


def test_svg_begins_with_its_element_and_open_lines_are_not_filled():
    svg = as_svg(Curves(curves=(Curve(seconds=(0.0, 1.0), share=(0.0, 1.0)),), about=""), WIDTH)
    assert svg.startswith("<svg")
    assert "fill: none" in svg
    assert "None" not in svg
