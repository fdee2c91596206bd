"""Studies from one's own sessions: who takes part, who is left out and why, and numbers that are those of the parts."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.reliability.retest import (
    Design,
    ExcludedPerson,
    WhyExcluded,
    WhyWithheld,
    examiner_reliability,
    retest_reliability,
)
from analysis.results.quantities import Unit
from analysis.results.scores import Score, ScoreKind
from analysis.statistics.agreement import limits_of_agreement
from analysis.statistics.icc import intraclass_correlations
from analysis.statistics.measurement_error import standard_error, standard_error_from_icc, within_subject_cv_pct

START = dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC)
CHANCE = np.random.default_rng(20)
VALUES = 200.0 + 40.0 * CHANCE.standard_normal((12, 1)) + 8.0 * CHANCE.standard_normal((12, 3))


def score(person="P-01", day=0.0, value=200.0, **changes):
    facts = {"action": "hip-flexion", "side": "left", "examiner": "X01", **changes}
    return Score(person=person, when=START + dt.timedelta(days=day), value=value, **facts)


def code(number):
    return f"P-{number + 1:02}"


def retests(values=VALUES, days=7.0, **changes):
    """A score a week of each person, by one examiner."""
    return [score(code(who), days * day, float(value), **changes) for (who, day), value in np.ndenumerate(values)]


def test_numbers_are_those_of_the_first_two_occasions():
    (study,) = retest_reliability(retests())
    pairs = VALUES[:, :2]
    assert (study.design, study.ratings, study.withheld, study.excluded) == (Design.SAME_EXAMINER, ("1", "2"), None, ())
    assert study.persons == tuple(code(who) for who in range(12))
    assert study.kind == ScoreKind("hip-flexion", "left", "hand", "ramp-and-hold", Unit.NEWTON)
    numbers = study.numbers
    assert numbers.mean == pytest.approx(pairs.mean())
    assert numbers.icc == intraclass_correlations(pairs)
    assert numbers.sem == standard_error(pairs)
    assert numbers.sem_from_icc == standard_error_from_icc(pairs, numbers.icc["ICC(2,1)"].value)
    # 12 persons twice: 11 degrees of freedom, t = 2.201 (its table)
    assert numbers.mdc95 == pytest.approx(2.201 * np.sqrt(2.0) * numbers.sem.value, rel=1e-4)
    assert numbers.mdc95_pct == pytest.approx(100.0 * numbers.mdc95 / pairs.mean())
    assert numbers.cv_pct == within_subject_cv_pct(pairs)
    assert numbers.agreement == limits_of_agreement(pairs[:, 0], pairs[:, 1])


def test_three_occasions_have_no_limits_of_agreement():
    (study,) = retest_reliability(retests(), occasions=3)
    assert study.ratings == ("1", "2", "3")
    assert study.numbers.sem == standard_error(VALUES)
    assert study.numbers.agreement is None


@given(st.randoms())
def test_order_of_the_scores_does_not_matter(random):
    scores = retests()
    random.shuffle(scores)
    assert retest_reliability(scores) == retest_reliability(retests())


def test_each_kind_is_a_study_of_its_own():
    several = [
        *retests(),
        *retests(side="right"),
        *retests(method="belt"),
        *retests(unit=Unit.NEWTON_METRE),
        *retests(protocol="mine"),
        *retests(action="knee-flexion"),
    ]
    studies = retest_reliability(several)
    assert len({study.kind for study in studies}) == len(studies) == 6
    assert all(study.numbers == retest_reliability(retests())[0].numbers for study in studies)


@pytest.mark.parametrize(
    ("second", "reason"),
    [
        (None, WhyExcluded.TOO_FEW_OCCASIONS),
        ({"day": 14.1}, WhyExcluded.TOO_FAR_APART),
        ({"day": 7.0, "examiner": "X02"}, WhyExcluded.EXAMINERS_DIFFER),
        ({"day": 7.0, "examiner": None}, WhyExcluded.EXAMINERS_DIFFER),
    ],
)
def test_person_who_takes_no_part_is_named_with_the_reason(second, reason):
    extra = [score("P-99")] + ([score("P-99", **second)] if second else [])
    (study,) = retest_reliability(retests() + extra)
    assert study.excluded == (ExcludedPerson(person="P-99", reason=reason),)
    assert study.numbers == retest_reliability(retests())[0].numbers


def test_examiner_who_is_never_known_takes_no_part():
    (study,) = retest_reliability(retests(examiner=None))
    assert {left.reason for left in study.excluded} == {WhyExcluded.EXAMINERS_DIFFER}


def test_persons_without_a_code_are_not_taken_for_one():
    (study,) = retest_reliability([*retests(), score("", 0.0), score("", 0.0), score("", 7.0)])
    assert study.excluded == (ExcludedPerson(person="", reason=WhyExcluded.NO_CODE),)


def test_days_apart_may_be_chosen():
    scores = retests(days=30.0)
    assert retest_reliability(scores)[0].withheld is WhyWithheld.TOO_FEW_PERSONS
    assert retest_reliability(scores, most_days=30.0)[0].withheld is None


@pytest.mark.parametrize(("persons", "withheld"), [(8, WhyWithheld.TOO_FEW_PERSONS), (9, None)])
def test_nine_persons_are_enough_for_two_occasions(persons, withheld):
    (study,) = retest_reliability(retests(VALUES[:persons]))
    assert study.withheld is withheld
    assert (study.numbers is None) is (withheld is not None)
    assert len(study.persons) == persons


def test_persons_who_do_not_differ_have_no_numbers():
    (study,) = retest_reliability(retests(np.full((10, 2), 200.0)))
    assert (study.numbers, study.withheld) == (None, WhyWithheld.NO_DIFFERENCE)


def test_mean_that_is_not_positive_has_no_numbers():
    (study,) = retest_reliability(retests(VALUES - 200.0))
    assert (study.numbers, study.withheld) == (None, WhyWithheld.NOT_POSITIVE)


def test_two_scores_at_the_same_time_are_refused():
    with pytest.raises(ValueError, match=r"got two of hip-flexion for P-01 at 2026-03-01T09:00:00\+00:00"):
        retest_reliability([score(), score(value=210.0)])


def test_one_occasion_is_no_retest():
    with pytest.raises(ValueError, match="occasions must be at least 2, got 1"):
        retest_reliability(retests(), occasions=1)


def test_nothing_gives_no_study():
    assert retest_reliability([]) == ()


class TestBetweenExaminers:
    def both(self, values=VALUES):
        return [
            score(code(who), float(number), float(value), examiner=f"X0{number + 1}")
            for (who, number), value in np.ndenumerate(values)
        ]

    def test_columns_are_the_examiners(self):
        (study,) = examiner_reliability(self.both(), ["X02", "X01"])
        assert (study.design, study.ratings) == (Design.BETWEEN_EXAMINERS, ("X02", "X01"))
        assert study.numbers.icc == intraclass_correlations(VALUES[:, [1, 0]])
        assert study.numbers.agreement.bias == pytest.approx((VALUES[:, 1] - VALUES[:, 0]).mean())

    def test_first_score_of_each_examiner_counts(self):
        later = [score(code(who), 5.0, 999.0) for who in range(12)]
        assert examiner_reliability(self.both() + later, ["X01", "X02"]) == examiner_reliability(
            self.both(), ["X01", "X02"]
        )

    def test_person_whom_one_did_not_test_is_named(self):
        extra = [score("P-98"), score("P-99", 0.0), score("P-99", 20.0, examiner="X02")]
        (study,) = examiner_reliability(self.both() + extra, ["X01", "X02"])
        assert study.excluded == (
            ExcludedPerson(person="P-98", reason=WhyExcluded.EXAMINER_MISSING),
            ExcludedPerson(person="P-99", reason=WhyExcluded.TOO_FAR_APART),
        )

    def test_all_three_may_be_compared_at_once(self):
        (study,) = examiner_reliability(self.both(), ["X01", "X02", "X03"])
        assert study.numbers.icc == intraclass_correlations(VALUES)

    @pytest.mark.parametrize("examiners", [[], ["X01"], ["X01", "X01"]])
    def test_examiners_must_be_different_ones(self, examiners):
        with pytest.raises(ValueError, match="examiners must be two or more different ones, got"):
            examiner_reliability(self.both(), examiners)
