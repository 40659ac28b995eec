"""What a count is refused for, and what is only asked."""

import json
import math
from dataclasses import replace

import pytest

from counts.constants import DEFAULTS, METHOD_VERSION, RECOVERY_SUGAR_UNTRAINED, Constants, Mark
from counts.samples import (
    JAR_KINDS,
    BeesBy,
    BoardSample,
    JarSample,
    Kind,
    Method,
    Problem,
    Question,
    kind_of,
    problems_of,
    questions_about,
)


def jar(mites, bees=310, bees_by=BeesBy.COUNTED, method=Method.ALCOHOL_WASH):
    return JarSample(mites, bees, bees_by, method)


ORDINARY = [jar(0), jar(46), jar(7, 300, BeesBy.VOLUME), BoardSample(0, 3), BoardSample(900, 7)]


@pytest.mark.parametrize("sample", ORDINARY)
def test_ordinary_sample_is_neither_refused_nor_asked_about(sample):
    assert problems_of(sample) == ()
    assert questions_about(sample) == ()


@pytest.mark.parametrize(
    ("sample", "problem"),
    [
        (jar(-1), Problem.MITES_NOT_WHOLE),
        (jar(2.5), Problem.MITES_NOT_WHOLE),
        (jar(math.inf), Problem.MITES_NOT_WHOLE),
        (jar(math.nan), Problem.MITES_NOT_WHOLE),
        (jar(0, 0), Problem.BEES_NOT_POSITIVE),
        (jar(3, -300), Problem.BEES_NOT_POSITIVE),
        (jar(931, 310), Problem.MITES_IMPOSSIBLE),
        (BoardSample(-1, 3), Problem.MITES_NOT_WHOLE),
        (BoardSample(1, 0), Problem.DAYS_NOT_POSITIVE),
        (BoardSample(1, math.inf), Problem.DAYS_NOT_POSITIVE),
        (BoardSample(1, math.nan), Problem.DAYS_NOT_POSITIVE),
        (BoardSample(1, 3, 0), Problem.SHARE_NOT_POSSIBLE),
        (BoardSample(1, 3, 1.01), Problem.SHARE_NOT_POSSIBLE),
    ],
)
def test_impossible_sample_is_refused_not_asked_about(sample, problem):
    assert problem in problems_of(sample)
    assert questions_about(sample) == ()


def test_three_mites_per_bee_is_the_last_that_is_kept():
    assert problems_of(jar(930, 310)) == ()


@pytest.mark.parametrize(
    ("sample", "question"),
    [
        (jar(73, 301), Question.MANY_MITES),
        (jar(312, 310), Question.MORE_MITES_THAN_BEES),
        (jar(3, 49), Question.FEW_BEES),
        (jar(3, 1001), Question.MANY_BEES),
        (jar(9, 300), Question.ROUND_BEES_COUNTED),
        (BoardSample(3, 0.4), Question.SHORT_BOARD),
        (BoardSample(30, 8), Question.LONG_BOARD),
        (BoardSample(30, 3, 0.1), Question.SMALL_SHARE),
    ],
)
def test_unusual_sample_is_asked_about_but_kept(sample, question):
    assert questions_about(sample) == (question,)
    assert problems_of(sample) == ()


def test_questions_begin_only_beyond_their_bounds():
    assert questions_about(jar(150, 1000)) == ()
    assert questions_about(BoardSample(3, 0.5)) == ()
    assert questions_about(BoardSample(3, 7)) == ()


def test_every_method_has_one_kind_and_jars_are_two_of_them():
    assert {kind_of(method) for method in Method} == set(Kind)
    assert {Kind.WASH, Kind.ROLL} == JAR_KINDS
    assert kind_of(Method.SOAP_WASH) is kind_of(Method.ALCOHOL_WASH) is Kind.WASH
    assert kind_of(Method.CO2) is kind_of(Method.SUGAR_ROLL) is Kind.ROLL


def test_constants_carry_a_mark_and_say_where_they_are_from():
    named = dict(DEFAULTS.named())

    assert all(one.mark in Mark for one in named.values())
    assert all(one.source for one in named.values())
    assert "Ostiguy" in named["board_grid_cv"].source


def test_stored_constants_name_the_method_and_keep_uncertain_values_with_their_sd():
    stored = DEFAULTS.as_stored()

    assert stored["method"] == METHOD_VERSION
    assert stored["scoop_cv"] == 0.20
    assert stored["recovery_sugar"] == [0.929, 0.055]
    assert set(stored) == {"method", *dict(DEFAULTS.named())}


def test_constants_come_back_from_what_was_stored():
    club = replace(DEFAULTS, recovery_sugar=RECOVERY_SUGAR_UNTRAINED, version="an older method")

    back = Constants.from_stored(json.loads(json.dumps(club.as_stored())))

    assert back.as_stored() == club.as_stored()
    assert (back.recovery_sugar.value, back.recovery_sugar.sd, back.version) == (
        0.80,
        0.10,
        "an older method",
    )
    assert Constants.from_stored({"method": METHOD_VERSION, "scoop_cv": 0.35}).scoop_cv.value == 0.35
