"""Tables as spreadsheets write them, and what a user gets wrong."""

from typing import Annotated, Literal

import msgspec
import pytest

from analysis.errors import TableError
from analysis.tablefile import read_table


class Head(msgspec.Struct, frozen=True, kw_only=True, rename="kebab"):
    title: Annotated[str, msgspec.Meta(min_length=1)]
    unit_of: Literal["N"] | Literal["N m", "kgf"] = "N"
    caution: tuple[str, ...] = ()


class Row(msgspec.Struct, frozen=True, kw_only=True):
    name: str
    mean: Annotated[float, msgspec.Meta(gt=0.0)]
    n: int | None = None

    def __post_init__(self):
        if self.n == 13:
            raise ValueError("thirteen is unlucky")


PLAIN = """\
# title: Three names, of nobody
# unit-of: N m
# caution: one, with a comma
# caution: two: with a colon
name,mean,n
arm,2.5,12
leg,3e2,
"""


@pytest.fixture
def read(tmp_path):
    def from_text(text, encoding="utf-8"):
        path = tmp_path / "mine.csv"
        path.write_bytes(text.encode(encoding))
        return read_table(path, Head, lambda _: Row)

    return from_text


def test_keys_columns_and_lines_are_read(read):
    table = read(PLAIN)
    assert table.head.title == "Three names, of nobody"
    assert table.head.unit_of == "N m"
    assert table.head.caution == ("one, with a comma", "two: with a colon")
    assert [(line.number, line.row) for line in table.lines] == [
        (6, Row(name="arm", mean=2.5, n=12)),
        (7, Row(name="leg", mean=300.0)),
    ]


SPREADSHEETS = {
    "ends of lines": PLAIN.replace("\n", "\r\n"),
    "no last end of line": PLAIN.rstrip(),
    "filled up with empty cells": PLAIN.replace("\n", ",,,,\n"),
    "quoted cells": PLAIN.replace("# caution: one, with a comma", '"# caution: one, with a comma"').replace(
        "arm,2.5", '"arm","2.5"'
    ),
    "keys in cells of their own": PLAIN.replace("# title: Three names, of nobody", '# title,"Three names, of nobody"'),
    "empty lines and comments": PLAIN.replace("name,", "#\n\n  ,\nname,").replace("leg,", "# not this,1,1\nleg,"),
    "blanks and capitals": PLAIN.replace("# unit-of: N m", "#Unit-Of :  N m ").replace("name,mean", " Name , MEAN"),
    "semicolons and decimal commas": PLAIN.replace("name,mean,n", "name;mean;n")
    .replace("arm,2.5,12", "arm;2,5;12")
    .replace("leg,3e2,", "leg;300,0;"),
    "tabs": PLAIN.replace("name,mean,n", "name\tmean\tn")
    .replace("arm,2.5,12", "arm\t2.5\t12")
    .replace("leg,3e2,", "leg\t3e2"),
    "columns in another order": PLAIN.replace("name,mean,n", "n,mean,name")
    .replace("arm,2.5,12", "12,2.5,arm")
    .replace("leg,3e2,", ",3e2,leg"),
}


@pytest.mark.parametrize("text", SPREADSHEETS.values(), ids=SPREADSHEETS)
def test_every_way_of_a_spreadsheet_gives_the_same_table(read, text):
    expected = read(PLAIN)
    table = read(text)
    assert table.head == expected.head
    assert [line.row for line in table.lines] == [line.row for line in expected.lines]


def test_byte_order_mark_is_passed_over(read):
    assert read(PLAIN, encoding="utf-8-sig").head == read(PLAIN).head


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("# title: Three", "# titel: Three", r"line 1: there is no key titel; there are: title, unit-of, caution"),
        ("# title: Three", "# title Three", r"line 1: must be '# key: value', got 'title Three names, of nobody'"),
        ("# title: Three names, of nobody\n", "", r"there must be a value for `title` in its head, as '# key: value'"),
        ("Three names, of nobody", "", r"line 1: key title: '': must not be empty"),
        ("# unit-of", "# title: b\n# unit-of", r"line 2: the key title is there twice"),
        ("N m\n", "Nm\n", r"line 2: key unit-of: 'Nm': must be one of: N, N m, kgf"),
        ("name,mean,n", "name,mean,m", r"line 5: there is no column m; there are: name, mean, n"),
        ("name,mean,n", "name,,mean,n", r"line 5: there is no column without a name"),
        ("name,mean,n", "name,mean,mean", r"line 5: the column mean is there twice"),
        ("name,mean,n", "name,n", r"line 5: the column mean is missing"),
        ("2.5", "two", r"line 6, column mean: 'two': expected a number$"),
        ("2.5", "-2.5", r"line 6, column mean: '-2\.5': expected a number > 0\.0"),
        ("2.5", "nan", r"line 6, column mean: 'nan': expected a number > 0\.0"),
        ("2.5", "", r"line 6: there must be a value for `mean`"),
        ("12", "12.5", r"line 6, column n: '12\.5': expected a whole number$"),
        ("12", "13", r"line 6: thirteen is unlucky"),
        ("12", "12,9", r"line 6: has 4 cells, but there are 3 columns"),
        ("arm", '"arm', r"line 7: is no row of a CSV file: unexpected end of data"),
        ("arm,2.5,12\nleg,3e2,\n", "", r"holds no rows, only its head and its columns"),
        ("name,mean,n\narm,2.5,12\nleg,3e2,\n", "", r"holds no columns, only its head"),
    ],
)
def test_what_is_wrong_is_named_with_its_place(read, old, new, message):
    assert old in PLAIN
    with pytest.raises(TableError, match=rf"mine\.csv(: |, ){message}"):
        read(PLAIN.replace(old, new))


def test_decimal_comma_that_is_wrong_is_shown_as_it_was_typed(read):
    with pytest.raises(TableError, match=r"line 3, column mean: '-2,5': expected"):
        read("# title: a\nname;mean\narm;-2,5\n")


def test_empty_file_lacks_its_head(read):
    with pytest.raises(TableError, match=r"mine\.csv: there must be a value for `title`"):
        read("")


def test_file_that_is_no_text_is_refused(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TableError, match=r"mine\.csv: is not a text file in UTF-8"):
        read_table(path, Head, lambda _: Row)


def test_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(TableError, match=r"none\.csv: there is no such file"):
        read_table(tmp_path / "none.csv", Head, lambda _: Row)
