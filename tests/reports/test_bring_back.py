"""What comes back through the pages: recognised, shown, and written whole or not at all."""

import datetime as dt
import io
import json
import re
import uuid
import zipfile
from collections.abc import Callable
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import rename_region
from apiaries.bringing_back import NO_ADDRESS
from apiaries.models import Colony, Person, Yard
from counts.models import MiteSample
from reports.export.actions import KEPT_FOR, GoneMeanwhile, bring_in, keep_returned_file
from reports.export.bounded import MOST_BYTES, MOST_JSON_BYTES
from reports.export.catalogue import BACK
from reports.export.reading import MOST_REGIONS, NotAnExport, read_export
from reports.export.writing import Form, write_export
from reports.models import ReturnedFile
from tests.cast import Cast, make_cast
from tests.flows.nasty import AT, make_nasty
from treatments.models import Treatment

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
Clients = Callable[[Person | None], Client]
LATER = f"{timezone.now().year + 5}-01-01"
UPLOAD, LOOK = "reports:bring-back", "reports:bring-back-look"


@pytest.fixture(scope="module")
def files(django_db_setup: Any, django_db_blocker: Any) -> dict[Form, bytes]:
    """Alice's exports from a server on which nothing is left of them."""
    with django_db_blocker.unblock(), transaction.atomic():
        call_command("load_reference", verbosity=0)
        cast = make_cast()
        make_nasty(cast)
        made = {}
        for form in Form:
            file = io.BytesIO()
            write_export(Person.objects.get(pk=cast.alice.pk), form, file, at=AT)
            made[form] = file.getvalue()
        transaction.set_rollback(True)
    return made


@pytest.fixture
def told(files: dict[Form, bytes]) -> dict[str, Any]:
    """The JSON file as what it says, to be changed."""
    return json.loads(files[Form.JSON])


def send(client: Client, data: bytes | dict[str, Any]) -> Any:
    body = json.dumps(data).encode() if isinstance(data, dict) else data
    return client.post(reverse(UPLOAD), {"file": SimpleUploadedFile("export", body)})


def problems(answer: Any) -> str:
    assert answer.status_code == 200
    text = answer.content.decode()
    found = re.findall(r'id="troubles".*?</section>|id="problems".*?</div>', text, re.DOTALL)
    assert found, text
    return " ".join(found)


def nothing_written() -> None:
    """Only what the cast has."""
    assert set(Yard.objects.values_list("name", flat=True)) == {"Home yard", "Orchard"}
    assert not MiteSample.objects.exists()
    assert not Treatment.objects.exists()
    assert not Person.objects.exclude(known_to=None).exists()


@pytest.mark.parametrize("form", list(Form))
def test_file_is_shown_first_and_then_brought_in(
    cast: Cast, client_for: Clients, files: dict[Form, bytes], form: Form
) -> None:
    client = client_for(cast.charlie)
    assert send(client, files[form])["Location"] == reverse(LOOK)
    nothing_written()

    page = client.get(reverse(LOOK)).content.decode()
    assert "Made for Alice" in page
    assert re.search(r"<dt>Yards</dt>\s*<dd>\s*5\s*</dd>", page)

    assert client.post(reverse(LOOK)).status_code == 302
    yards = Yard.objects.filter(keeper=cast.charlie)
    assert yards.count() == 6
    assert MiteSample.objects.filter(yard__in=yards).count() == len(json.loads(files[Form.JSON])["counts"])
    assert (
        "brought it in from a file"
        in client.get(reverse("apiaries:yard-detail", args=[yards.get(name="=Yard").pk])).content.decode()
    )
    assert not ReturnedFile.objects.get().content
    assert client.get(reverse(LOOK)).status_code == 404


def test_people_of_the_file_are_names_and_nobody_who_is_here(
    cast: Cast, client_for: Clients, told: dict[str, Any]
) -> None:
    told["counts"][0] |= {"recorded_by": "Ines"}
    client = client_for(cast.charlie)
    send(client, told)
    client.post(reverse(LOOK))

    named = Person.objects.filter(known_to=cast.charlie)
    assert set(named.values_list("name", flat=True)) == {"Bob", "Ines"}
    assert all(one.email.endswith(f"@{NO_ADDRESS}") and not one.is_active for one in named)
    assert not any(one.has_usable_password() for one in named)
    for here in (cast.ines, cast.bob, cast.alice):
        assert not MiteSample.objects.filter(recorded_by=here).exists()
    assert MiteSample.objects.filter(recorded_by=cast.charlie).exists()
    sample = MiteSample.objects.get(recorded_by__name="Ines")
    assert "Ines" in client.get(reverse("counts:sample-detail", args=[sample.pk])).content.decode()


def test_estimates_come_from_what_was_counted_and_not_from_the_file(
    cast: Cast, client_for: Clients, told: dict[str, Any]
) -> None:
    row = next(one for one in told["counts"] if one["mites_per_100_bees"] is not None)
    honest = row["mites_per_100_bees"]
    row |= {"mites_per_100_bees": 0, "mites_per_100_bees_low": 0, "mites_per_100_bees_high": 0}
    client = client_for(cast.charlie)
    send(client, told)
    client.post(reverse(LOOK))

    assert MiteSample.objects.get(entry_key=row["entry_key"]).rate * 100 == pytest.approx(honest, abs=1e-4)


def test_second_time_is_refused_whole(cast: Cast, client_for: Clients, files: dict[Form, bytes]) -> None:
    client = client_for(cast.charlie)
    send(client, files[Form.CSV])
    client.post(reverse(LOOK))
    before = (Yard.objects.count(), MiteSample.objects.count(), Colony.objects.count())

    answer = problems(send(client_for(cast.dana), files[Form.CSV]))
    assert "This is on this server already." in answer
    assert (Yard.objects.count(), MiteSample.objects.count(), Colony.objects.count()) == before


def test_yard_of_a_name_that_is_taken_is_named(cast: Cast, client_for: Clients, told: dict[str, Any]) -> None:
    answer = problems(send(client_for(cast.alice), told))  # she keeps a "Home yard" here already
    assert "You keep an open yard of this name already. Rename that one first." in answer
    nothing_written()


def test_what_others_keep_stays_out(cast: Cast, client_for: Clients, told: dict[str, Any]) -> None:
    file = io.BytesIO()
    write_export(Person.objects.get(pk=cast.bob.pk), Form.JSON, file, at=AT)

    assert "Nothing in this file is yours to bring back." in problems(
        send(client_for(cast.bob), file.getvalue())
    )
    told["yards"][3]["yours"] = False
    client = client_for(cast.charlie)
    answer = send(client, told)
    assert answer.status_code == 302, problems(answer)
    assert "1 row of other keepers stays out." in client.get(reverse(LOOK)).content.decode()


def test_file_that_claims_a_yard_writes_only_into_own_ones(cast: Cast, client_for: Clients) -> None:
    """Bob, who helps Alice, says in the file that her yard is his: he gets a yard of his own, and hers is as it was."""
    file = io.BytesIO()
    write_export(Person.objects.get(pk=cast.bob.pk), Form.JSON, file, at=AT)
    forged = json.loads(file.getvalue())
    forged["yards"][0]["yours"] = True
    client = client_for(cast.bob)
    send(client, forged)
    page = client.get(reverse(LOOK)).content.decode()
    assert "6 hives need new labels" in page
    client.post(reverse(LOOK))

    assert Yard.objects.get(keeper=cast.bob).name == "Home yard"
    assert {one.yard_id for one in Colony.objects.filter(pk__in=[one.pk for one in cast.colonies])} == {
        cast.alice_yard.pk
    }
    assert Colony.objects.values("label_code").distinct().count() == Colony.objects.count()


@pytest.mark.parametrize(
    ("table", "change", "words"),
    [
        ("counts", {"mites": "many"}, "is no whole number"),
        ("counts", {"mites": -1}, "as a whole number, even if it is 0"),
        ("counts", {"method": "telepathy"}, "There is no such method"),
        (
            "counts",
            {"mites": 5000, "bees": 300, "method": "alcohol_wash", "bees_by": "counted"},
            "Look at both numbers again",
        ),
        ("counts", {"sampled_on": "2031-01-01"}, "future"),
        ("counts", {"recorded_at": "2099-01-01T00:00:00Z"}, "This is still to come."),
        ("counts", {"colony": "22222222"}, "No row of this file that is yours has this key."),
        ("counts", {"entry_key": None}, "This cell is empty."),
        ("counts", {"recorded_by": ""}, "This cell is empty."),
        ("counts", {"voided_at": "2026-09-20T10:00:00Z"}, "contradicts itself"),
        ("counts", {"note": "x" * 501}, "at most 500 characters"),
        ("yards", {"time_zone": "Moon/Mare"}, "Choose a time zone"),
        ("yards", {"latitude": 91, "longitude": 0}, "There is no such place on earth."),
        ("yards", {"latitude": 1, "longitude": None}, "A place has a latitude and a longitude."),
        ("yards", {"latitude": None, "longitude": None, "area": "nowhere"}, "This is no map cell."),
        ("yards", {"latitude": None, "longitude": None, "area": "f" * 17}, "This is no map cell."),
        ("yards", {"latitude": None, "longitude": None, "area": "851F1D4BFFFFFFF"}, "This is no map cell."),
        ("colonies", {"label_code": "<script>"}, "This is no code of a label."),
        ("colonies", {"brood_boxes": 9}, "contradicts itself"),
        ("colonies", {"yard": 99}, "No row of this file that is yours has this key."),
        ("treatments", {"way": "bee_whispering"}, "This way of treating is not known here."),
        ("rounds", {"given_on": LATER}, "A round cannot have been given in the future."),
        ("rounds", {"round": 7}, "Rounds are numbered from 1"),
        ("doses", {"amount": 0}, "contradicts itself"),
        ("doses", {"amount": "1e400"}, "is no number"),
        ("recounts", {"kind": "guess"}, "There is no such kind of count."),
        ("recounts", {"latest_on": "9999-12-31"}, "Enter a year from 1900 to 2099."),
        ("rounds", {"planned_on": "0001-01-01"}, "Enter a year from 1900 to 2099."),
        ("counts", {"recorded_at": "0001-01-01T00:00:00Z"}, "Enter a year from 1900 to 2099."),
        ("purchases", {"expires_on": "2100-01-01"}, "Enter a year from 1900 to 2099."),
        ("recounts", {"earliest_on": LATER}, "contradicts itself"),
        ("purchases", {"unit": ""}, "This field cannot be blank."),
        ("ticks", {"position": 77}, "No row of this file that is yours has this key."),
        ("heaters", {"peukert": 9}, "contradicts itself"),
        ("life_events", {"kind": "stolen"}, "is not a valid choice"),
        ("moves", {"to_yard": 1, "from_yard": 1}, "contradicts itself"),
    ],
)
def test_row_that_cannot_be_is_named_and_nothing_is_written(
    cast: Cast, client_for: Clients, told: dict[str, Any], table: str, change: dict[str, Any], words: str
) -> None:
    told[table][0] |= change
    answer = problems(send(client_for(cast.charlie), told))

    assert words in answer.replace("&#x27;", "'")
    assert re.search(r'<td data-label="Row" class="number">\s*1\s*</td>', answer)
    nothing_written()
    assert not ReturnedFile.objects.exists()


@pytest.mark.parametrize("number", ["1e99999999999999999999999", "-1e999999", "1e400"])
def test_number_beyond_all_numbers_is_named(
    cast: Cast, client_for: Clients, told: dict[str, Any], number: str
) -> None:
    told["doses"][0]["amount"] = "HERE"
    data = json.dumps(told).replace('"HERE"', number).encode()
    assert "is no number" in problems(send(client_for(cast.charlie), data))
    nothing_written()


def test_treatment_without_its_recount_is_refused(
    cast: Cast, client_for: Clients, told: dict[str, Any]
) -> None:
    told["recounts"].pop()
    assert "The recount of this treatment is missing." in problems(send(client_for(cast.charlie), told))
    nothing_written()


def test_two_rows_of_one_key_are_refused(cast: Cast, client_for: Clients, told: dict[str, Any]) -> None:
    told["counts"].append(told["counts"][0])
    assert "Another row has this key." in problems(send(client_for(cast.charlie), told))
    nothing_written()


@pytest.mark.parametrize("table", ["counts", "purchases"])
def test_rows_that_correct_each_other_in_a_circle_are_refused(
    cast: Cast, client_for: Clients, told: dict[str, Any], table: str
) -> None:
    one = told[table][0]
    others = [one | {"entry_key": str(uuid.uuid4())} for _ in range(2)]
    for row, before in zip((one, *others), (*others, one), strict=True):
        row["corrects"] = before["entry_key"]
    told[table] += others
    for row in told[table]:  # nothing else of the file stands in the place of these
        if row not in (one, *others):
            row["corrects"] = None
    assert "contradicts itself, or another row" in problems(send(client_for(cast.charlie), told))
    nothing_written()


def test_region_that_the_club_does_not_have_is_asked_for(
    cast: Cast, client_for: Clients, files: dict[Form, bytes]
) -> None:
    rename_region(region=cast.north, name="Far North", by=cast.adam)
    client = client_for(cast.charlie)
    send(client, files[Form.JSON])
    assert "Region of the yards in “North”" in client.get(reverse(LOOK)).content.decode()

    assert "Choose a region of your club." in problems(client.post(reverse(LOOK)))
    zoes = cast.zoe.membership.club.regions.create(name="Zoe's")
    assert "Choose a region of your club." in problems(client.post(reverse(LOOK), {"region_0": zoes.pk}))
    nothing_written()
    assert client.post(reverse(LOOK), {"region_0": cast.south.pk}).status_code == 302
    assert set(Yard.objects.filter(keeper=cast.charlie).values_list("region", flat=True)) == {cast.south.pk}


def test_file_can_be_given_up(cast: Cast, client_for: Clients, files: dict[Form, bytes]) -> None:
    client = client_for(cast.charlie)
    send(client, files[Form.JSON])
    assert client_for(cast.alice).get(reverse(LOOK)).status_code == 404
    client.post(reverse("reports:bring-back-give-up"))
    assert not ReturnedFile.objects.exists()
    nothing_written()


def test_yes_sent_twice_brings_it_in_once(cast: Cast, files: dict[Form, bytes]) -> None:
    package, at = read_export(files[Form.JSON]), timezone.now()
    file = keep_returned_file(
        person=cast.charlie, content=files[Form.JSON], told={"made_for": "Alice"}, at=at, by=cast.charlie
    )
    bring_in(file=file, package=package, regions={"North": cast.north}, at=at, by=cast.charlie)
    with pytest.raises(GoneMeanwhile):
        bring_in(file=file, package=package, regions={"North": cast.north}, at=at, by=cast.charlie)


def test_file_that_nobody_decides_about_goes_with_the_next(cast: Cast) -> None:
    at = timezone.now()
    for person, sent_at in ((cast.charlie, at - KEPT_FOR - dt.timedelta(minutes=1)), (cast.alice, at)):
        keep_returned_file(person=person, content=b"{}", told={}, at=sent_at, by=person)
    assert [one.person for one in ReturnedFile.objects.all()] == [cast.alice]


def _zip(**entries: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in entries.items():
            packed.writestr(f"{name}.csv", data)
    return file.getvalue()


def _plain_workbook() -> bytes:
    file, book = io.BytesIO(), openpyxl.Workbook()
    book.active.append(["mites", "bees"])
    book.save(file)
    return file.getvalue()


def _stamp_and(*rows: bytes) -> bytes:
    tables = (f'"{name}": []'.encode() for name in BACK if name != "yards")
    stamp = b'{"about": {"file": "Recount export", "version": 1}, "yards": ['
    return stamp + b",".join(rows) + b"]," + b",".join(tables) + b"}"


NOISE = [b"%d" % (n * n * 7919) for n in range(50_000)]
"""Nothing that packs well, together longer than any line may be."""


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "This file is empty."),
        (b"colony,mites\r\n1,2\r\n", "This is no export of Recount."),
        (b"\xd0\xcf\x11\xe0", "This is no export of Recount."),
        (b"{}", "This is no export of Recount."),
        (b'{"about": 5}', "This is no export of Recount."),
        (b'{"about": {"file": "Something else", "version": 1}}', "This is no export of Recount."),
        (b'{"about": {"file": "Recount export", "version": 1}}', "is missing in this file"),
        (b'{"about": {"file": "Recount export", "version": 2}}', "A newer Recount wrote this file."),
        (b'{"about": {"file": "Recount export", "version": "\xd9\xa1"}}', "A newer Recount wrote this file."),
        (b'{"about": {"file": {}}}', "damaged or not complete"),
        (b'{"about"', "damaged or not complete"),
        (b'{"a":' + b"[" * 100_000, "damaged or not complete"),
        (b'{"a":' + b"9" * 5000 + b"}", "damaged or not complete"),
        (b"PK\x03\x04rubbish", "damaged or not complete"),
        (_zip(yards=b"yard\r\n1\r\n"), "This is no export of Recount."),
        (
            _zip(about=b'what,value\r\nfile,Recount export\r\nversion,1\r\n"', yards=b""),
            "damaged or not complete",
        ),
        (_zip(about=b"what,value\r\nfile,\xff\xfe\r\n"), "damaged or not complete"),
        (_zip(about=b"what,value\r\n" + b"=" * 30_000_000), "unfold"),
        (_zip(**{f"t{n}": b"" for n in range(101)}), "unfold"),
        (_zip(about=b"what,value\r\n" + b"x,y\r\n" * 101), "unfold"),
        (_zip(about=b",".join(b"c%d" % n for n in range(101)) + b"\r\n"), "unfold"),
        (_zip(about=b"what,value\r\n" + b",".join(NOISE)), "unfold"),
        (_zip(about=b"what,value\r\n" + b",".join(b'"%s\n"' % one for one in NOISE)), "unfold"),
        (json.dumps({"about": {str(n): n for n in range(101)}}).encode(), "unfold"),
        (b'{"about": {}, "yards": [' + b"0," * 20_000 + b"0]}", "unfold"),
        (b'{"about": {}, "yards": [' + b"{}, " * 300_000 + b"{}]}", "unfold"),
        (_stamp_and(b'{"yard": 1}'), "has no column"),
        (_stamp_and(*[b'{"yard": 1}'] * 200_001), "more than 200000 rows"),
        (_stamp_and(json.dumps({f"c{n}": n for n in range(101)}).encode()), "unfold"),
        (_plain_workbook(), "This is no export of Recount."),
    ],
)
def test_file_that_is_no_export_is_refused_in_words(
    cast: Cast, client_for: Clients, data: bytes, words: str
) -> None:
    assert words in problems(send(client_for(cast.charlie), data))
    nothing_written()


def test_file_that_is_cut_off_is_refused(files: dict[Form, bytes]) -> None:
    for data in files.values():
        for share in (0.3, 0.7, 0.99):
            with pytest.raises(NotAnExport):
                read_export(data[: int(len(data) * share)])


def test_file_that_is_too_large_is_refused() -> None:
    with pytest.raises(NotAnExport, match="20 MB"):
        read_export(b"{" + b" " * MOST_BYTES)
    with pytest.raises(NotAnExport, match="16 MB"):
        read_export(b"{" + b" " * MOST_JSON_BYTES)


def test_file_that_names_too_many_regions_is_refused(told: dict[str, Any]) -> None:
    yard = told["yards"][0]
    told["yards"] = [yard | {"yard": n, "region": f"Region {n}"} for n in range(MOST_REGIONS + 1)]
    with pytest.raises(NotAnExport, match="more than 100 regions"):
        read_export(json.dumps(told).encode())
    told["yards"].pop()
    assert len(read_export(json.dumps(told).encode())["yards"]) == MOST_REGIONS


def test_column_or_table_that_is_missing_is_named(told: dict[str, Any]) -> None:
    without = told | {"counts": [{"mites": 1}]}
    with pytest.raises(NotAnExport, match="“counts” has no column “entry_key”"):
        read_export(json.dumps(without).encode())
    told.pop("recounts")
    with pytest.raises(NotAnExport, match="“recounts” is missing"):
        read_export(json.dumps(told).encode())


def test_columns_and_tables_to_read_may_be_left_out(told: dict[str, Any]) -> None:
    for name in ("account", "helpers", "counts_left_out", "record_changes"):
        del told[name]
    for row in told["counts"]:
        del row["colony_name"], row["mites_per_100_bees"]
    assert read_export(json.dumps(told).encode()).troubles == []


def test_zip_that_was_packed_anew_inside_a_folder_is_read(files: dict[Form, bytes]) -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(files[Form.CSV])) as old, zipfile.ZipFile(file, "w") as new:
        for name in old.namelist():
            new.writestr(f"my bees/{name}", old.read(name))
            new.writestr(f"__MACOSX/._{name}", b"junk")
    assert read_export(file.getvalue()).rows == read_export(files[Form.CSV]).rows


def test_inspector_keeps_no_yards_and_brings_nothing_back(cast: Cast, client_for: Clients) -> None:
    page = client_for(cast.ines).get(reverse("reports:take-everything")).content.decode()
    assert reverse(UPLOAD) not in page
    assert reverse(UPLOAD) in client_for(cast.alice).get(reverse("reports:take-everything")).content.decode()
