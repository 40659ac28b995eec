"""A statement that is put together once answers as the queryset it was made from, for whatever keys."""

from typing import Any

import pytest
from django.db import connection
from django.db.models import Count, F, QuerySet, Value
from django.test.utils import CaptureQueriesContext

from apiaries.built_once import BuiltOnce
from apiaries.models import Colony, Yard
from apiaries.who_sees import _ASKED, _asked
from counts.standing import _LEVELS, _levels


def _counted(*, yard: int, keeper: int) -> "QuerySet[Colony, Any]":
    living = Colony.objects.filter(yard=yard, yard__keeper=keeper, ended_on=None)
    rows = living.values("yard").annotate(
        n=Count("pk"), own=Value(keeper), five=Value(5), name=F("yard__name")
    )
    return rows.order_by().values_list("yard", "n", "own", "five", "name")


def test_it_is_put_together_once_and_asked_with_other_keys(cast: Any, django_assert_num_queries: Any) -> None:
    built = []

    def build(**keys: int) -> "QuerySet[Colony, Any]":
        built.append(keys)
        return _counted(**keys)

    asked = BuiltOnce(build, ("yard", "keeper"))
    keys = {"yard": cast.alice_yard.pk, "keeper": cast.alice.pk}
    with django_assert_num_queries(2):
        first = asked.row(**keys)
        again = asked.row(**keys)

    assert first == again == _counted(**keys).get()
    assert first[0] == cast.alice_yard.pk and first[2:4] == (cast.alice.pk, 5)
    assert len(built) == 1


@pytest.mark.usefixtures("reference")
def test_published_levels_are_those_of_the_queryset() -> None:
    rows = _LEVELS.rows()

    assert len(rows) > 5 and rows == list(_levels())


def test_what_is_told_is_of_the_moment(cast: Any) -> None:
    asked = BuiltOnce(_counted, ("yard", "keeper"))
    keys = {"yard": cast.alice_yard.pk, "keeper": cast.alice.pk}
    before = asked.row(**keys)

    Colony.objects.filter(pk=cast.colony.pk).update(ended_on="2026-08-01")

    assert asked.row(**keys)[1] == before[1] - 1


def test_a_key_that_it_was_not_made_for_is_refused(cast: Any) -> None:
    with pytest.raises(KeyError):
        BuiltOnce(_counted, ("yard", "keeper")).row(yard=1)


def test_who_sees_a_yard_is_asked_in_the_words_of_the_queryset(cast: Any) -> None:
    yard = Yard.objects.get(pk=cast.alice_yard.pk)
    keys = {"yard": yard.pk, "club": yard.club_id, "region": yard.region_id, "keeper": yard.keeper_id}

    with CaptureQueriesContext(connection) as asked:
        row = _ASKED.row(**keys)
        assert [row] == list(_asked(**keys))

    mine, theirs = (one["sql"] for one in asked.captured_queries)
    assert mine == theirs
