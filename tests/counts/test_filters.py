"""Which counts the list shows."""

import datetime as dt
from typing import Any

import pytest
from django.http import QueryDict

from apiaries.actions import add_yard, change_role
from apiaries.permissions import Role
from counts.actions import void_sample
from counts.filters import SampleFilter
from counts.samples import Method
from tests.cast import Cast
from tests.counts.counting import AT, kept


@pytest.fixture
def counted(cast: Cast) -> Cast:
    """Mites tell the counts apart: 1 in June, 2 a roll in August, 3 voided, 4 in Charlie's yard."""
    kept(cast.colony, cast.alice, 1, sampled_on=dt.date(2026, 6, 1))
    kept(cast.colonies[1], cast.alice, 2, method=Method.SUGAR_ROLL)
    void_sample(sample=kept(cast.colony, cast.alice, 3), why="spilt", at=AT, by=cast.alice)
    kept(cast.charlie_yard.colonies.first(), cast.charlie, 4)
    return cast


def _shown(person: Any, query: str) -> list[int]:
    chosen = SampleFilter(QueryDict(query), person=person, today=AT.date())
    return sorted(chosen.qs.values_list("mites", flat=True))


@pytest.mark.parametrize(
    ("query", "mites"),
    [
        ("", [1, 2]),
        ("voided=voided", [3]),
        ("voided=all", [1, 2, 3]),
        ("method=sugar_roll", [2]),
        ("from=2 Jun 2026", [2]),
        ("to=2026-06-01", [1]),
        ("from=2026-06-01&to=2026-06-01", [1]),
        ("from=2026-09-01", []),
    ],
)
def test_filter_shows_what_was_chosen(counted: Cast, query: str, mites: list[int]) -> None:
    assert _shown(counted.alice, query) == mites


def test_filter_by_yard_and_colony(counted: Cast) -> None:
    assert _shown(counted.alice, f"yard={counted.alice_yard.pk}") == [1, 2]
    assert _shown(counted.alice, f"colony={counted.colony.pk}&voided=all") == [1, 3]


def test_yard_of_others_cannot_be_chosen(counted: Cast) -> None:
    chosen = SampleFilter(QueryDict(f"yard={counted.charlie_yard.pk}"), person=counted.alice, today=AT.date())

    assert "yard" in chosen.form.errors
    assert 4 not in _shown(counted.alice, f"yard={counted.charlie_yard.pk}")


@pytest.mark.parametrize("query", ["from=3/4/2026", "method=guess", "yard=x", "voided=odd", "from=%00"])
def test_what_cannot_be_read_is_said(counted: Cast, query: str) -> None:
    chosen = SampleFilter(QueryDict(query), person=counted.alice, today=AT.date())

    assert list(chosen.form.errors) == [query.partition("=")[0]]
    assert 4 not in chosen.qs.values_list("mites", flat=True)


def _offered(person: Any) -> list[Any]:
    form = SampleFilter(QueryDict(""), person=person, today=AT.date()).form
    return [(group, words) for group, words in form.fields["yard"].choices if group]


def test_yard_is_named_with_its_keeper_where_its_name_is_not_unique(counted: Cast) -> None:
    change_role(
        role=Role.INSPECTOR,
        membership=counted.ines.memberships.get(),
        regions=[counted.north, counted.south],
        by=counted.adam,
    )
    same = add_yard(keeper=counted.charlie, region=counted.south, name="Home yard", by=counted.charlie)

    assert _offered(counted.ines) == [
        ("North", [(counted.alice_yard.pk, "Home yard (Alice)")]),
        ("South", [(same.pk, "Home yard (Charlie)"), (counted.charlie_yard.pk, "Orchard")]),
    ]
    assert _offered(counted.alice) == [(counted.alice_yard.pk, "Home yard")]


def test_region_is_asked_of_who_sees_several_keepers(counted: Cast) -> None:
    change_role(
        role=Role.INSPECTOR,
        membership=counted.ines.memberships.get(),
        regions=[counted.north, counted.south],
        by=counted.adam,
    )

    assert _shown(counted.ines, f"region={counted.south.pk}") == [4]
    assert _shown(counted.ines, f"region={counted.north.pk}") == [1, 2]
    alone = SampleFilter(QueryDict(f"region={counted.south.pk}"), person=counted.alice, today=AT.date())
    assert "region" not in alone.form.fields
    assert _shown(counted.alice, f"region={counted.south.pk}") == [1, 2]
    hers = SampleFilter(QueryDict("region=0"), person=counted.ines, today=AT.date())
    assert "region" in hers.form.errors
