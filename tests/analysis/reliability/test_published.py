"""Published changes: what comes with the program, and which study is nearest."""

import pytest

from analysis.errors import TableError
from analysis.reliability.published import PublishedChange, fitting_changes, load_published
from analysis.results.quantities import Unit
from analysis.results.scores import ScoreKind


def kind(action="knee-extension", method="belt", unit=Unit.NEWTON):
    return ScoreKind(action, "left", method, "ramp-and-hold", unit)


# read in the abstracts or tables of the papers named
@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("Chamorro 2017", [("knee-extension", "%", 23.91, 43.26, "not stated")]),
        (
            "Lee 2020",
            [
                ("knee-extension", "%", 24.10, 24.10, "same examiner"),
                ("knee-extension", "%", 29.26, 29.26, "between examiners"),
            ],
        ),
    ],
)
def test_changes_are_those_of_the_papers(source, expected):
    rows = [row for row in load_published().rows if row.source.startswith(source)]
    assert [(row.action, row.unit, row.low, row.high, row.design) for row in rows] == expected


@pytest.mark.parametrize("study", ["Morin", "Byrne", "Buckinx", "McLaine"])
def test_studies_that_are_optimistic_or_fit_nobody_else_are_not_among_them(study):
    assert not [row for row in load_published().rows if study in row.source]


def test_limit_that_is_no_share_has_the_mean_it_holds_near():
    assert [row for row in load_published().rows if row.unit != "%" and row.mean is None] == []


def test_unit_of_each_row_is_one_of_a_score_or_per_cent():
    assert {row.unit for row in load_published().rows} <= {"%", *(unit.value for unit in Unit)}


@pytest.mark.parametrize(
    ("what", "design", "expected"),
    [
        (kind(), "same examiner", [24.10, 29.26]),
        (kind(), "between examiners", [29.26, 24.10]),
        (kind(unit=Unit.NEWTON_METRE), "same examiner", [24.10, 29.26]),
        (kind(method="hand"), "same examiner", [43.26]),
        (kind("hip-abduction"), "same examiner", []),
        (kind("hip-abduction", "hand", Unit.NEWTON_METRE), "same examiner", []),
        (kind("wrist-extension", "hand"), "same examiner", []),
    ],
)
def test_nearest_study_comes_first(what, design, expected):
    assert [row.high for row in fitting_changes(load_published().rows, what, design, mean=400.0)] == expected


def made(**changes):
    plain = {
        "action": "knee-extension",
        "unit": "N",
        "high": 30.0,
        "statistic": "MDC95",
        "method": "belt",
        "design": "same examiner",
        "group": "healthy",
        "population": "invented",
        "source": "invented",
        "mean": 400.0,
    }
    return PublishedChange(**plain | changes)


@pytest.mark.parametrize(("mean", "there"), [(319.0, 0), (321.0, 1), (479.0, 1), (481.0, 0)])
def test_limit_in_newtons_holds_near_the_mean_of_its_study(mean, there):
    assert len(fitting_changes([made()], kind(), "same examiner", mean=mean)) == there
    assert fitting_changes([made(mean=None)], kind(), "same examiner", mean=mean) == ()
    assert len(fitting_changes([made(unit="%", mean=None)], kind(), "same examiner", mean=mean)) == 1


def test_design_weighs_more_than_health_and_that_more_than_the_unit():
    ordered = [
        made(unit="%"),
        made(),
        made(group="not stated"),
        made(group="patients"),
        made(design="not stated"),
        made(design="between examiners"),
    ]
    assert list(fitting_changes(reversed(ordered), kind(), "same examiner", mean=400.0)) == ordered


HEAD = "# title: ours\n# verified: invented\naction,unit,low,high,statistic,method,design,group,population,source\n"
ROW = "hip-flexion,N,30,40,MDC95,belt,same examiner,healthy,ours,ours\n"


def test_table_of_ones_own_is_read(tmp_path):
    path = tmp_path / "ours.csv"
    path.write_text(HEAD + ROW)
    (row,) = load_published(str(path)).rows
    assert (row.action, row.low, row.high) == ("hip-flexion", 30.0, 40.0)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("30,40", "40,30", r"line 4: high is 30\.0, below low, 40\.0"),
        ("30,40", "30,", "line 4: there must be a value for `high`"),
        (",N,", ",Nm,", "line 4, column unit: 'Nm': must be one of: %, N, kgf"),
        ("same examiner", "one examiner", "line 4, column design: 'one examiner': must be one of: same examiner"),
    ],
)
def test_row_that_cannot_be_is_named(tmp_path, old, new, message):
    path = tmp_path / "ours.csv"
    path.write_text(HEAD + ROW.replace(old, new))
    with pytest.raises(TableError, match=f"ours.csv, {message}"):
        load_published(str(path))


def test_table_that_is_not_there_names_the_one_that_is():
    with pytest.raises(TableError, match=r"called ours .*comes with: important, published, side-index"):
        load_published("ours")
