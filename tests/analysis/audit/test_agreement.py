"""Which scores of which two examiners are a study."""

import pytest

from analysis.audit.agreement import agreement_studies

DAY = 86_400.0


def pairs(count, *, first="A", second="B", **said):
    """Trials of persons whom two examiners tested, a day apart; forces that differ by person and little by examiner."""
    for person in range(count):
        for place, examiner in enumerate((first, second)):
            yield {
                "file": f"{examiner}-{person}.h5",
                "person": f"P-{person}",
                "examiner": examiner,
                "started_s": (10 * person + place) * DAY,
                "plateau_n": 100.0 + 10.0 * person + 3.0 * place * (-1) ** person,
                **said,
            }


@pytest.mark.parametrize(("count", "studies"), [(8, 0), (9, 1), (10, 1)])
def test_nine_persons_are_a_study(table_of, count, studies):
    found = agreement_studies(table_of(*pairs(count)))
    assert [(study.ratings, len(study.persons)) for study in found] == [(("A", "B"), count)] * studies


def test_study_says_what_was_tested(table_of):
    (study,) = agreement_studies(table_of(*pairs(10, action="knee-extension", side="right", method="belt")))
    assert (study.kind.action, study.kind.side, study.kind.method) == ("knee-extension", "right", "belt")
    (study,) = agreement_studies(table_of(*pairs(10, side=None)))
    assert (study.kind.action, study.kind.side, study.kind.method) == ("hip-flexion", None, "hand")
    (study,) = agreement_studies(table_of(*pairs(10, side="left")))
    assert study.kind.side == "left"


def test_sides_are_studies_of_their_own(table_of):
    found = agreement_studies(table_of(*pairs(9, side="left"), *pairs(9, side="right")))
    assert sorted(study.kind.side for study in found) == ["left", "right"]


def test_each_two_of_three_examiners_are_a_study(table_of):
    thirds = [trial for trial in pairs(9, second="C") if trial["examiner"] == "C"]
    for third in thirds:
        third["started_s"] += DAY
    found = agreement_studies(table_of(*pairs(9), *thirds))
    assert sorted(study.ratings for study in found) == [("A", "B"), ("A", "C"), ("B", "C")]


def test_best_accepted_plateau_of_a_session_counts(table_of):
    plain = list(pairs(10))
    more = [
        extra
        for trial in plain
        for extra in (
            trial | {"plateau_n": 0.8 * trial["plateau_n"]},
            trial,
            trial | {"plateau_n": 2.0 * trial["plateau_n"], "faults": ("jerk",)},
            trial | {"plateau_n": None},
        )
    ]
    (once,), (many,) = (agreement_studies(table_of(*trials)) for trials in (plain, more))
    assert many.numbers.icc["ICC(2,1)"].value == once.numbers.icc["ICC(2,1)"].value
    assert many.numbers.agreement.bias == once.numbers.agreement.bias


@pytest.mark.parametrize("lacks", [{"person": ""}, {"examiner": ""}, {"started_s": None}, {"plateau_n": None}])
def test_trial_that_lacks_something_takes_no_part(table_of, lacks):
    trials = list(pairs(10))
    trials[0] |= lacks
    trials[3] |= lacks
    assert agreement_studies(table_of(*trials)) == ()
