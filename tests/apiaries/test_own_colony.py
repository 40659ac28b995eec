"""The colony of one's own: asked in SQL that is made once, and the same for everybody as what the lists ask."""

from typing import Any

import pytest
from django.db import connection, models
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apiaries import own_colony as own_colony_module
from apiaries.actions import end_membership
from apiaries.built_once import BuiltOnce
from apiaries.models import Colony, Person
from apiaries.own_colony import _ASKED, own_colony


def columns(one: models.Model) -> dict[str, object]:
    """All that is kept of it, by column."""
    return {field.attname: getattr(one, field.attname) for field in type(one)._meta.concrete_fields}


def test_it_is_the_persons_to_edit_or_nobodys(cast: Any) -> None:
    colonies = list(Colony.objects.all())
    for person in Person.objects.all():
        editable = set(Colony.objects.editable_by(person).values_list("pk", flat=True))
        assert {one.pk for one in colonies if own_colony(person, one.pk) is not None} == editable
    assert own_colony(cast.alice, cast.colony.pk) is not None


def test_who_left_the_club_edits_nothing(cast: Any) -> None:
    end_membership(membership=cast.alice.membership, at=timezone.now(), by=cast.adam)
    del cast.alice.membership

    assert own_colony(cast.alice, cast.colony.pk) is None


def test_it_comes_whole_with_yard_and_club_in_one_query(cast: Any) -> None:
    assert cast.alice.membership.club == cast.club
    wanted = Colony.objects.select_related("yard__club").get(pk=cast.colony.pk)

    with CaptureQueriesContext(connection) as asked:
        found = own_colony(cast.alice, wanted.pk)
        assert found is not None
        found.yard.club  # noqa: B018  (which came along)

    assert len(asked) == 1
    assert columns(found) == columns(wanted)
    assert columns(found.yard) == columns(wanted.yard)
    assert found.yard.club == wanted.yard.club
    assert not found._state.adding
    assert found._state.db == wanted._state.db


@pytest.mark.parametrize("only", ["yard__club_id", "yard__keeper_id"])
def test_a_gate_that_leaves_the_person_or_the_club_out_is_noticed(
    cast: Any, monkeypatch: pytest.MonkeyPatch, only: str
) -> None:
    def let_through(colonies: Any, person: Person) -> Any:
        assert person.membership is not None
        return colonies.filter(**{only: person.pk if "keeper" in only else person.membership.club_id})

    monkeypatch.setattr(type(Colony.objects.all()), "editable_by", let_through)
    monkeypatch.setattr(own_colony_module, "_ASKED", BuiltOnce(_ASKED.build, _ASKED.names))

    with pytest.raises(TypeError):
        own_colony(cast.alice, cast.colony.pk)


@pytest.mark.parametrize("key", [2**63 - 1, 2**63, 10**30])
def test_a_key_that_no_colony_has_is_nobodys(cast: Any, key: int) -> None:
    assert own_colony(cast.alice, key) is None
