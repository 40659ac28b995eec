"""The second lock: with the gates in code switched off, the database still gives out no row of somebody else's."""

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, models, transaction
from django.test import Client
from django.urls import reverse

from apiaries import second_lock
from apiaries.models import Person, Yard
from apiaries.models.places import ColonyQuerySet, YardQuerySet
from apiaries.second_lock import as_person, as_the_service, told
from counts.models import MiteSample
from counts.models.sampled import MiteSampleQuerySet
from tests.cast import Cast
from tests.plain_role import held
from tests.treatments.making import treat
from treatments.entry_keys import EntryKeyReused
from treatments.models import Dose, MedicineDisposal, MedicinePurchase, Round, Treatment
from treatments.models.given import TreatmentQuerySet
from treatments.models.medicines import KeptQuerySet

PROTECTED: dict[str, str] = {
    "counts_mitesample": "yard",
    "treatments_treatment": "yard",
    "treatments_round": "treatment__yard",
    "treatments_dose": "round__treatment__yard",
    "treatments_medicinepurchase": "keeper",
    "treatments_medicinedisposal": "keeper",
    "treatments_lockedentry": "",
    "apiaries_yard": "pk",
}
"""Tables behind the lock, and how a row of each reaches its yard or keeper. Their histories are behind it too."""


PEOPLE = ("alice", "bob", "charlie", "dana", "ines", "ivan", "adam", "zoe")


@pytest.mark.parametrize("name", PEOPLE)
@pytest.mark.owner
def test_both_locks_let_the_same_rows_through(full: Cast, lock: str, name: str) -> None:
    """Neither more, which would be a hole, nor less, which would be a page with gaps."""
    person: Person = getattr(full, name)
    yards = Yard.objects.visible_to(person)
    gates = {
        Yard: set(yards),
        MiteSample: set(MiteSample.objects.visible_to(person)),
        Treatment: set(Treatment.objects.visible_to(person)),
        Round: set(Round.objects.filter(treatment__yard__in=yards)),
        Dose: set(Dose.objects.filter(round__treatment__yard__in=yards)),
        MedicinePurchase: set(MedicinePurchase.objects.visible_to(person)),
        MedicineDisposal: set(MedicineDisposal.objects.visible_to(person)),
    }
    with held(lock), as_person(person.pk):
        for model, rows in gates.items():
            assert set(model._default_manager.all()) == rows, model


@pytest.mark.owner
def test_who_is_not_told_of_reads_nothing(full: Cast, lock: str) -> None:
    with held(lock):
        for model in (apps.get_model(*table.split("_", 1)) for table in PROTECTED):
            assert not model._default_manager.exists(), model
            for history in _histories(model):
                assert not history._default_manager.exists(), history
        with as_the_service():
            assert Yard.objects.count() == 2 and MiteSample.objects.count() == 4


@pytest.mark.owner
def test_histories_are_behind_it_too(full: Cast, lock: str) -> None:
    with held(lock), as_person(full.zoe.pk):
        for model in (apps.get_model(*table.split("_", 1)) for table in PROTECTED):
            assert [history for history in _histories(model) if history._default_manager.exists()] == []


@pytest.mark.owner
def test_the_next_to_read_finds_nobody_elses(full: Cast, lock: str) -> None:
    """One connection, three readers one after the other, as behind a pooler."""
    with held(lock):
        with as_person(full.alice.pk):
            assert {one.yard_id for one in MiteSample.objects.all()} == {full.alice_yard.pk}
        with as_person(full.charlie.pk):
            assert {one.yard_id for one in MiteSample.objects.all()} == {full.charlie_yard.pk}
        assert not MiteSample.objects.exists()


@pytest.mark.owner
def test_rows_that_come_in_portions_and_raw_reads_are_told_too(full: Cast, lock: str) -> None:
    with held(lock), as_person(full.charlie.pk):
        assert {one.yard_id for one in MiteSample.objects.iterator(chunk_size=1)} == {full.charlie_yard.pk}
        with told():
            (number,) = connection.connection.execute("SELECT count(*) FROM counts_mitesample").fetchone()
        assert number == 2


@pytest.mark.owner
def test_after_a_failed_statement_the_reader_is_the_same(full: Cast, lock: str) -> None:
    with held(lock), as_person(full.alice.pk):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SELECT 1 / 0")
        assert MiteSample.objects.count() == 2


@pytest.mark.owner
def test_nobody_writes_into_a_yard_that_is_not_theirs(full: Cast, lock: str) -> None:
    foreign = MiteSample.objects.filter(yard=full.alice_yard).first()
    assert foreign
    with held(lock), as_person(full.charlie.pk):
        assert not MiteSample.objects.filter(pk=foreign.pk).update(mites=0)
        copy = models.Model.__new__(MiteSample)
        copy.__dict__.update({k: v for k, v in foreign.__dict__.items() if k not in ("id", "entry_key")})
        copy.pk, copy._state.adding = None, True
        copy.entry_key = "00000000-0000-4000-8000-000000000001"
        with pytest.raises(DatabaseError, match="row-level security"), transaction.atomic():
            copy.save(force_insert=True)
    with held(lock), as_person(full.dana.pk):  # a coordinator who may see the yard, and not write in it
        assert MiteSample.objects.filter(yard=full.charlie_yard).exists()
        assert not MiteSample.objects.filter(yard=full.charlie_yard).update(note="x")


@pytest.mark.owner
def test_a_key_of_a_treatment_that_the_lock_hides_is_told(full: Cast, lock: str) -> None:
    """The database knows of it all the same, by its unique constraint: a sentence for the form, and no failure."""
    key = Treatment.objects.get(yard=full.alice_yard).entry_key
    colony = full.charlie_yard.colonies.last()
    assert colony
    with held(lock), as_person(full.charlie.pk):
        with pytest.raises(EntryKeyReused):
            treat([colony], dt.date(2026, 11, 20), entry_key=key)
        assert Treatment.objects.count() == 1


@pytest.fixture
def gates_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first lock: every gate lets everything through."""

    def everything(rows: Any, person: Person) -> Any:
        return rows.all()

    for rows in (YardQuerySet, ColonyQuerySet, MiteSampleQuerySet, TreatmentQuerySet, KeptQuerySet):
        for gate in ("visible_to", "recordable_by", "editable_by", "exact_place_visible_to"):
            if hasattr(rows, gate):
                monkeypatch.setattr(rows, gate, everything)


def _pages(yard: Yard, sample: MiteSample, treatment: Treatment) -> list[str]:
    return [
        reverse("apiaries:yard-detail", args=[yard.pk]),
        reverse("counts:sample-detail", args=[sample.pk]),
        reverse("treatments:treatment-detail", args=[treatment.pk]),
    ]


@pytest.mark.owner
def test_with_the_first_lock_off_the_second_holds(
    full: Cast, lock: str, gates_off: None, client_for: Callable[[Person | None], Client]
) -> None:
    """The same pages, asked by a keeper of another yard: the owner's role draws them, the service's does not."""
    sample = MiteSample.objects.filter(yard=full.alice_yard).first()
    treatment = Treatment.objects.get(yard=full.alice_yard)
    assert sample
    client = client_for(full.charlie)
    client.raise_request_exception = False
    pages = _pages(full.alice_yard, sample, treatment)

    assert [client.get(page).status_code for page in pages] == [200] * len(pages), "the gates are not off"
    with held(lock):
        answers = [client.get(page) for page in pages]
        own = client.get(reverse("apiaries:yard-detail", args=[full.charlie_yard.pk]))
    assert [answer.status_code for answer in answers] == [404] * len(pages)
    assert not [answer for answer in answers if "Home yard" in answer.content.decode()]
    assert own.status_code == 200 and "Orchard" in own.content.decode()


LEFT: dict[str, str] = {
    "apiaries_colony": "names, no counts; every page of one asks for its yard, which is behind the lock",
    "apiaries_colonychange": "what was done to a colony, as above",
    "apiaries_colonymove": "between which yards, as above",
    "apiaries_yardhelper": "who helps where: the policies themselves ask it",
    "apiaries_visit": "reports of visits: a reader of their own (announced or not) that no list of yards says",
    "apiaries_visitfinding": "part of a visit",
    "apiaries_visitsuspicion": "part of a visit",
    "counts_countleftout": "why a count is owed to nobody, no count",
    "counts_importbatch": "a file that somebody sent: theirs, whatever yards are in it",
    "counts_importrow": "part of a file",
    "reports_calendarfeed": "which address leads where",
    "reports_yardmonth": "sums that region figures are made of by whole regions, read by the service alone",
    "treatments_device": "a heater's name and battery",
    "treatments_medicinelink": "digests: it quotes nothing",
    "treatments_sheethive": "part of a day's plan",
    "treatments_yardoutlook": "dates worked out anew for whole clubs",
}
"""Tables with a yard, keeper or colony in them that are not behind the lock, and why."""


def test_every_table_of_a_yard_is_behind_it_or_says_why_not(db: None) -> None:
    reaching = {
        model._meta.db_table
        for model in apps.get_models()
        if {field.column for field in model._meta.local_concrete_fields}
        & {"yard_id", "keeper_id", "colony_id"}
        and not model._meta.proxy
        and not hasattr(model, "pgh_obj")
    }
    assert reaching - set(PROTECTED) == set(LEFT), "decide: behind the lock, or left out with a reason"


@pytest.mark.parametrize("table", sorted(PROTECTED))
def test_a_table_behind_it_has_a_rule_for_each_command(db: None, table: str) -> None:
    model = apps.get_model(*table.split("_", 1))
    for name in (table, *(history._meta.db_table for history in _histories(model))):
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT relrowsecurity, array(SELECT polcmd::text FROM pg_policy WHERE polrelid = c.oid ORDER BY 1)"
                " FROM pg_class c WHERE oid = to_regclass(%s)",
                [name],
            )
            assert cursor.fetchone() == (True, ["a", "d", "r", "w"]), name


def test_lists_of_a_reader_are_asked_for_once(db: None) -> None:
    """Right inside unnest() the planner calls the function too, to guess a number of rows: twice for each statement."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT polrelid::regclass::text, pg_get_expr(polqual, polrelid), pg_get_expr(polwithcheck, polrelid)"
            " FROM pg_policy"
        )
        lists = [
            (table, text[at : at + 20])
            for table, *texts in cursor.fetchall()
            for text in filter(None, texts)
            for at in [found.start() for found in re.finditer(r"unnest\(", text)]
        ]
    assert len(lists) > len(PROTECTED)
    assert {text for _, text in lists} == {"unnest(( SELECT apia", "unnest(( SELECT trea"}


def _histories(model: Any) -> list[Any]:
    return [one for one in apps.get_models() if getattr(one, "pgh_tracked_model", None) is model]


@pytest.mark.owner
def test_the_owner_is_not_held(db: None) -> None:
    assert not second_lock.is_held(connection)
