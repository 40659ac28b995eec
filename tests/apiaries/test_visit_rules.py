"""How many colonies a visit opens, held against the published rules; and the reference data of visits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apiaries.actions import set_visit_rule
from apiaries.models import Club
from apiaries.visit_reference import (
    LOOKED_FOR,
    NOTIFIABLE,
    REPORTABLE,
    disease_of,
    diseases,
    has_list,
    rule_of,
    written_rules,
)
from apiaries.visit_rules import OWN, OpenRule, colonies_to_open, every_colony
from apiaries.visit_words import ASPECTS

FLORIDA, HALF = "florida", "half_from_11"


def rule(key: str) -> OpenRule:
    return next(one for one in written_rules() if one.key == key)


@pytest.mark.parametrize(
    ("key", "present", "expected"),
    [
        # Florida Administrative Code 5B-54.011: at least 5 percent, at least 10, all where there are fewer than 10
        (FLORIDA, 8, 8),
        (FLORIDA, 10, 10),
        (FLORIDA, 40, 10),
        (FLORIDA, 200, 10),
        (FLORIDA, 210, 11),  # 10.5, rounded up
        (FLORIDA, 300, 15),
        # Apiary Inspection Protocol, form PI-148: all up to 10, half from 11 on
        (HALF, 10, 10),
        (HALF, 11, 6),
        (HALF, 24, 12),
    ],
)
def test_rules_open_as_published(key: str, present: int, expected: int) -> None:
    assert colonies_to_open(rule(key), present) == expected


@given(
    present=st.integers(0, 3000),
    share=st.integers(1, 100),
    floor=st.integers(0, 40),
    below=st.integers(0, 40),
)
def test_never_more_than_are_there_nor_fewer_than_the_share(
    present: int, share: int, floor: int, below: int
) -> None:
    number = colonies_to_open(OpenRule("x", "x", share, floor, below), present)

    assert number <= present
    assert 100 * number >= share * present or number == present
    assert number >= min(floor, present) or present < below


def test_while_no_rule_is_chosen_all_are_opened() -> None:
    assert [colonies_to_open(every_colony("all"), n) for n in (0, 1, 17)] == [0, 1, 17]


@pytest.mark.parametrize(("share", "floor"), [(0, 1), (101, 1), (5, -1)])
def test_numbers_of_no_rule_are_refused(share: int, floor: int) -> None:
    with pytest.raises(ValueError):
        OpenRule("x", "x", share, floor, 0)


def test_fewer_than_no_colonies_are_refused() -> None:
    with pytest.raises(ValueError):
        colonies_to_open(rule(FLORIDA), -1)


def test_club_chooses_its_rule(cast) -> None:
    assert colonies_to_open(rule_of(cast.club), 30) == 30

    set_visit_rule(club=cast.club, rule=HALF, share_percent=10, at_least=10, by=cast.adam)
    assert colonies_to_open(rule_of(cast.club), 30) == 15

    set_visit_rule(club=cast.club, rule=OWN, share_percent=20, at_least=4, by=cast.adam)
    assert [colonies_to_open(rule_of(cast.club), n) for n in (3, 4, 30)] == [3, 4, 6]


def test_list_of_the_united_kingdom_is_as_published() -> None:
    """gov.uk/bee-health: four notifiable; association bulletins of April 2021: Varroa once for each apiary."""
    club = Club(jurisdiction="GB")

    duties = {one.key: one.duty for one in diseases(club) if one.source}

    assert duties == dict.fromkeys(LOOKED_FOR, NOTIFIABLE) | {"varroa": REPORTABLE}
    assert all(one.tell and one.tell_mark == "from memory" for one in diseases(club) if one.source)


def test_country_without_a_list_says_nothing_of_duties() -> None:
    club = Club(jurisdiction="DE")

    assert not has_list(club)
    assert {one.duty for one in diseases(club)} == {"unknown"}
    assert disease_of(club, "american_foulbrood").tell == "the authority of your country"


def test_codes_of_findings_fit_their_columns_and_say_something() -> None:
    for aspect in ASPECTS:
        assert set(aspect.usual) <= set(aspect.codes)
        assert all(len(code) <= 12 and words for code, words in aspect.codes.items())
