"""How a report is laid out on A4: tables as wide as the page, headings that stay with what follows, numbered pages."""

import pytest
from pypdf import PdfReader
from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether

from ui.papers.report import pdf
from ui.papers.report.charts import register_fonts
from ui.papers.report.content import Bar, Bars, Blanks, Column, Facts, Group, Notes, Report, Row, Section, Table
from ui.papers.report.pdf import WIDTH, write_pdf

COLUMNS = (
    Column(heading="what", width=1.0),
    Column(heading="how much", width=2.0, number=True),
    Column(heading="", width=1.0),
)


@pytest.fixture(autouse=True)
def fonts():
    register_fonts()


def rows(count):
    return tuple(Row(cells=(f"row {number}", "1", "")) for number in range(count))


def test_columns_share_the_width_of_the_page():
    grid = pdf._table(Table(columns=COLUMNS, rows=rows(2)))
    assert grid._colWidths == pytest.approx([WIDTH / 4, WIDTH / 2, WIDTH / 4])
    assert grid.repeatRows == 1
    assert [cell.text for cell in grid._cellvalues[0]] == ["what", "how much", ""]
    assert [cell.text for cell in grid._cellvalues[2][:2]] == ["row 1", "1"]


def test_numbers_are_set_to_the_right_and_their_heading_too():
    head, first = pdf._table(Table(columns=COLUMNS, rows=rows(1)))._cellvalues
    assert [cell.style.alignment for cell in head[:2]] == [cell.style.alignment for cell in first[:2]] == [0, 2]


def test_heading_of_a_group_goes_across_and_stays_with_its_first_row():
    table = Table(columns=COLUMNS, rows=(*rows(1), Group(title="Knee"), *rows(1)))
    grid = pdf._table(table)
    assert [cell.text if cell != "" else "" for cell in grid._cellvalues[2]] == ["Knee", "", ""]
    assert grid._spanCmds == [("SPAN", (0, 2), (-1, 2))]
    assert ("NOSPLIT", (0, 2), (-1, 3)) in [tuple(each) for each in grid._nosplitCmds]


def test_picture_in_a_cell_is_as_wide_as_its_column_within_the_padding():
    chart = Bars(bars=(Bar(label="", value=1.0),), top=1.0, about="")
    column = Column(heading="", width=1.0)
    assert pdf._cell(chart, column, 50.0).width == pytest.approx(50.0 - 2.0 * pdf.PAD)


@pytest.mark.parametrize("count", [1, 2, 3, 8])
def test_facts_stand_in_two_columns_of_pairs(count):
    pairs = tuple((f"name {number}", f"value {number}") for number in range(count))
    values = pdf._facts(Facts(pairs=pairs))._cellvalues
    texts = [cell.text for row in values for cell in row]
    assert len(values) == (count + 1) // 2
    assert texts == [text for pair in pairs for text in pair] + ["", ""] * (count % 2)
    for row in values:
        names, told = {cell.style.name for cell in row[::2]}, {cell.style.name for cell in row[1::2]}
        assert len(names) == len(told) == 1
        assert names != told


@pytest.mark.parametrize("count", [1, 2, 3])
def test_lines_to_write_on_fill_the_width_with_room_between(count):
    grid = pdf._blanks(Blanks(labels=tuple(f"line {number}" for number in range(count))))
    assert len(grid._colWidths) == 2 * count - 1
    assert sum(grid._colWidths) == pytest.approx(WIDTH)
    assert grid._colWidths[1::2] == [14.0] * (count - 1)
    assert [cell.text for cell in grid._cellvalues[0][::2]] == [f"line {number}:" for number in range(count)]
    assert [command[1] for command in grid._linecmds] == [(at, 0) for at in range(0, 2 * count, 2)]


@pytest.mark.parametrize(("count", "whole"), [(8, True), (9, False)])
def test_short_section_stays_whole_and_a_long_one_keeps_its_title_with_what_follows(count, whole):
    pieces = pdf._section(Section(title="Results", blocks=(Table(columns=COLUMNS, rows=rows(count)),)))
    assert isinstance(pieces[0], KeepTogether) is whole
    if not whole:
        assert pieces[0].keepWithNext == 1
        assert pieces[0].text == "Results"


def test_section_without_a_title_has_its_blocks_only():
    (note,) = pdf._section(Section(title="", blocks=(Notes(sentences=("said",)),)))
    assert note.text == "said"


def test_sentences_are_listed_small_or_plain():
    styles = {
        kind: pdf._block(Notes(sentences=("a",), **{kind: True} if kind else {}))[0].style.name
        for kind in ("", "listed", "small")
    }
    assert len(set(styles.values())) == 3


def report(**changes):
    said = {
        "language": "en",
        "title": "Strength",
        "subtitle": "P-1",
        "banner": "",
        "sections": (Section(title="Results", blocks=(Table(columns=COLUMNS, rows=rows(150)),)),),
        "footer": "made by hand",
        "page": "page {page} of {pages}",
    }
    return Report(**(said | changes))


def test_pages_are_a4_numbered_with_footer_and_the_heading_of_the_table_on_each(tmp_path):
    write_pdf(report(), tmp_path / "a.pdf")
    pages = PdfReader(tmp_path / "a.pdf").pages
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        text = page.extract_text()
        assert f"page {number} of {len(pages)}" in text
        assert "made by hand" in text
        assert ("how much" in text) is ("row " in text)
        assert (page.mediabox.width, page.mediabox.height) == pytest.approx((210 * mm, 297 * mm), abs=0.01)
    whole = "".join(page.extract_text() for page in pages)
    assert all(f"row {number}\n" in whole + "\n" for number in range(150))


def test_same_report_makes_the_same_bytes_and_a_banner_is_shown(tmp_path):
    for name in ("a", "b"):
        write_pdf(report(banner="Invented data"), tmp_path / f"{name}.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    assert "Invented data" in PdfReader(tmp_path / "a.pdf").pages[0].extract_text()
