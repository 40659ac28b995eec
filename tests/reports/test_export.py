"""What leaves: what a person may see and nothing else, inert in spreadsheets, in a fixed number of queries."""

import csv
import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import replace
from threading import Thread
from typing import Any

import openpyxl
import pytest
from django.db import connection, models, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import end_membership, set_sharing
from apiaries.models import Colony, ColonyChange, Person, Yard
from apiaries.sheet_out import guarded, unguarded
from counts.models import MiteSample, SampleRestored
from reports.export.catalogue import TABLES
from reports.export.cells import CellKind
from reports.export.page import TITLES
from reports.export.writing import ENDINGS, Form, write_export
from tests.cast import Cast, make_cast, make_person
from tests.counts.counting import kept
from tests.flows.nasty import AT, make_nasty
from tests.reports.test_export_cells import PREFIXES
from treatments.models import (
    Device,
    Dose,
    MedicineDisposal,
    MedicinePurchase,
    Recount,
    SheetHive,
    SheetMark,
    Treatment,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
Clients = Callable[[Person | None], Client]
MODELS = (
    *(Yard, Colony, ColonyChange, MiteSample, SampleRestored, Treatment, Dose, Recount, SheetHive, SheetMark),
    *(Device, MedicinePurchase, MedicineDisposal),
)
FIXED = {
    "label_code",
    "method",
    "bees_by",
    "brood",
    "kind",
    "step",
    "ingredient",
    "cell",
    "time_zone",
    "refusal",
}


def taken(person: Person, form: Form = Form.JSON) -> Any:
    """The export: of JSON what it says, else its bytes."""
    file = io.BytesIO()
    write_export(Person.objects.get(pk=person.pk), form, file, at=AT)
    return json.loads(file.getvalue()) if form is Form.JSON else file.getvalue()


def test_member_takes_own_and_nothing_of_others(cast: Cast) -> None:
    make_nasty(cast)
    told = taken(cast.charlie)

    assert [row["name"] for row in told["yards"]] == ["Orchard"]
    assert {row["yard_name"] for row in told["colonies"]} == {"Orchard"}
    alone = {"about", "account", "yards", "colonies"}
    assert all(not rows for name, rows in told.items() if name not in alone)


def test_helper_takes_what_they_see_marked_as_not_theirs(cast: Cast) -> None:
    kept(cast.colony, cast.alice)
    told = taken(cast.bob)

    assert [(row["name"], row["yours"], row["keeper"]) for row in told["yards"]] == [
        ("Home yard", False, "Alice")
    ]
    assert len(told["counts"]) == 1
    assert told["helpers"] == []


def test_coordinator_takes_shared_yards_without_their_place(cast: Cast) -> None:
    Yard.objects.filter(pk=cast.alice_yard.pk).update(
        latitude="52.5", longitude="13.4", cell="851f1d4bfffffff"
    )
    assert taken(cast.dana)["yards"] == []

    set_sharing(membership=cast.alice.memberships.get(), shares_counts=True, by=cast.alice)
    (row,) = taken(cast.dana)["yards"]
    assert (row["name"], row["latitude"], row["longitude"], row["area"]) == ("Home yard", None, None, "")
    assert taken(cast.ines)["yards"][0]["latitude"] == 52.5
    assert taken(cast.ivan)["yards"][0]["name"] == "Orchard"


def test_who_left_the_club_still_takes_their_own(cast: Cast, client_for: Clients) -> None:
    kept(cast.colony, cast.alice)
    end_membership(membership=cast.alice.memberships.get(), at=timezone.now(), by=cast.adam)

    told = json.loads(_sent(client_for(cast.alice), form="json"))
    assert len(told["counts"]) == 1
    assert told["account"][0]["club"] == ""


def test_no_primary_key_and_no_address_of_others_leaves(cast: Cast) -> None:
    make_nasty(cast)
    text = json.dumps(taken(cast.alice))

    assert "alice@example.org" in text
    assert "bob@example.org" not in text
    names = {column.name for table in TABLES for column in table.columns}
    assert not names & {"id", "pk"}


def test_another_of_the_same_name_is_told_apart(cast: Cast) -> None:
    Person.objects.filter(pk=cast.bob.pk).update(name="Alice")
    for by in (cast.alice, cast.bob):
        kept(cast.colony, by)

    assert [row["recorded_by"] for row in taken(cast.alice)["counts"]] == ["Alice", "Alice (another)"]


@pytest.mark.parametrize("form", list(Form))
def test_queries_do_not_grow_with_rows(cast: Cast, form: Form) -> None:
    make_nasty(cast)
    person = Person.objects.get(pk=cast.alice.pk)

    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            taken(person, form)
        return len(queries)

    few = asked()
    for n in range(30):
        kept(cast.colonies[n % 6], cast.alice, mites=n)
    assert asked() == few


def _hostile(prefix: str) -> None:
    """Every text that anybody can type begins with it."""
    text = f"{prefix}1+cmd|' /C calc'!A0"
    for model in MODELS:
        fields = [
            field.name
            for field in model._meta.fields
            if isinstance(field, models.CharField) and field.name not in FIXED
        ]
        for one in model.objects.all():
            for name in fields:
                # What must be empty (a reason of what stands) stays so; what must differ, differs.
                if getattr(one, name):
                    most = one._meta.get_field(name).max_length
                    setattr(one, name, f"{text[: most - 8]}{one.pk}")
            model.objects.filter(pk=one.pk).update(**{name: getattr(one, name) for name in fields})


def _csv_cells(data: bytes) -> dict[tuple[str, str], list[str]]:
    cells: dict[tuple[str, str], list[str]] = {}
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        for table in TABLES:
            text = packed.read(f"{table.name}.csv").decode("utf-8-sig")
            heading, *rows = csv.reader(io.StringIO(text, newline=""))
            for at, name in enumerate(heading):
                cells[table.name, name] = [row[at] for row in rows]
    return cells


@pytest.mark.owner
def test_no_cell_of_any_text_is_a_formula(cast: Cast) -> None:
    make_nasty(cast)  # takes longer than all else here, so once for all
    for prefix in PREFIXES:
        with transaction.atomic():
            _hostile(prefix)
            _no_formula_in_either_form(cast, repr(prefix))
            transaction.set_rollback(True)


def _no_formula_in_either_form(cast: Cast, said: str) -> None:
    cells = _csv_cells(taken(cast.alice, Form.CSV))
    texts = {
        (table.name, column.name)
        for table in TABLES
        for column in table.columns
        if column.kind is CellKind.TEXT
    }
    hostile = [cell for where in texts for cell in cells[where] if "cmd|" in cell or "/C calc" in cell]
    assert len(hostile) > 150, said
    for where in texts:
        assert all(guarded(unguarded(cell)) == cell for cell in cells[where]), (said, where)

    book = openpyxl.load_workbook(io.BytesIO(taken(cast.alice, Form.XLSX)))
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert "f" not in kinds, said
    assert kinds <= {"s", "n", "d"}, said


def _sent(client: Client, **asked: str) -> bytes:
    answer = client.get(reverse("reports:take-file"), asked)
    assert answer.status_code == 200
    return answer.getvalue()


@pytest.mark.parametrize("form", list(Form))
def test_page_sends_each_form_under_a_name(cast: Cast, client_for: Clients, form: Form) -> None:
    client = client_for(cast.alice)
    answer = client.get(reverse("reports:take-file"), {"form": form.value})
    body = answer.getvalue()

    assert answer["Content-Disposition"].endswith(f'.{ENDINGS[form]}"')
    assert answer["Content-Length"] == str(len(body))
    assert answer["Cache-Control"] == "private, no-store"


def test_large_file_is_sent_piece_by_piece(cast: Cast, client_for: Clients, monkeypatch: Any) -> None:
    whole = client_for(cast.alice).get(reverse("reports:take-file"), {"form": "json"})
    monkeypatch.setattr("reports.export.files.IN_MEMORY", 1000)
    answer = client_for(cast.alice).get(reverse("reports:take-file"), {"form": "json"})

    assert answer.streaming
    assert answer.getvalue().splitlines()[1:] == whole.content.splitlines()[1:]
    assert answer["Content-Disposition"] == whole["Content-Disposition"]
    answer.close()


def test_mark_of_utf_8_can_be_left_out(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    for asked, mark in (({}, True), ({"without_mark": "on"}, False)):
        with zipfile.ZipFile(io.BytesIO(_sent(client, form="csv", **asked))) as packed:
            assert packed.read("yards.csv").startswith(b"\xef\xbb\xbf") is mark


def test_form_that_does_not_exist_is_said(cast: Cast, client_for: Clients) -> None:
    answer = client_for(cast.alice).get(reverse("reports:take-file"), {"form": "ods"})
    assert "Choose one of the three forms." in answer.content.decode()


def test_exports_are_limited(cast: Cast, client_for: Clients, settings: Any) -> None:
    settings.ACCOUNT_RATE_LIMITS = settings.ACCOUNT_RATE_LIMITS | {"export": "2/h/user"}
    client = client_for(cast.alice)
    url = reverse("reports:take-file")
    assert [client.get(url).status_code for _ in range(3)] == [200, 200, 429]


def test_list_of_counts_leaves_as_it_is_filtered(cast: Cast, client_for: Clients) -> None:
    kept(cast.colonies[0], cast.alice, mites=5, note="=1")
    kept(cast.colonies[1], cast.alice, mites=7)
    client, asked = client_for(cast.alice), {"colony": cast.colonies[0].pk}
    page = client.get(reverse("counts:sample-list"), asked).content.decode()
    assert f"{reverse('reports:counts-csv')}?colony={cast.colonies[0].pk}" in page

    body = client.get(reverse("reports:counts-csv"), asked).getvalue().decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(body, newline=""))
    assert (row["mites"], row["bees"], row["note"], row["colony_name"]) == ("5", "300", "'=1", "1")
    low, rate, high = (float(row[f"mites_per_100_bees{end}"]) for end in ("_low", "", "_high"))
    assert low < rate < high
    assert "yard" not in row


def test_list_of_others_counts_is_empty(cast: Cast, client_for: Clients) -> None:
    kept(cast.colony, cast.alice)
    body = client_for(cast.charlie).get(reverse("reports:counts-csv")).getvalue()
    assert len(body.splitlines()) == 1


def test_list_of_treatments_leaves(cast: Cast, client_for: Clients) -> None:
    make_nasty(cast)
    body = client_for(cast.alice).get(reverse("reports:treatments-csv")).getvalue()
    rows = list(csv.DictReader(io.StringIO(body.decode("utf-8-sig"), newline="")))
    assert len(rows) == Treatment.objects.count()


def test_every_table_has_a_name_on_the_page() -> None:
    assert [table.name for table in TABLES] == list(TITLES)


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_export_shows_one_moment(monkeypatch: Any) -> None:
    """A count kept by another hand while the export is written is in none of its tables."""
    cast = make_cast()
    person = Person.objects.get(pk=cast.alice.pk)
    first, later = TABLES[0], []

    def meanwhile(scope: Any) -> Any:
        list(Yard.objects.visible_to(scope.person))  # the moment is fixed by the first look
        hand = Thread(target=lambda: (later.append(kept(cast.colony, cast.alice)), connection.close()))
        hand.start()
        hand.join()
        return iter(())

    slow = (replace(first, lines=meanwhile), *TABLES[1:])
    monkeypatch.setattr("reports.export.writing.TABLES", slow)

    assert (len(taken(person)["counts"]), len(later)) == (0, 1)
    assert len(taken(person)["counts"]) == 1


def test_somebody_without_anything_takes_an_empty_export(cast: Cast) -> None:
    told = taken(make_person("Nobody"))
    assert [name for name, rows in told.items() if rows and name != "about"] == ["account"]
