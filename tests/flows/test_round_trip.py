"""What leaves comes back: export, an empty club, bring it in, export again, and the two are the same to the byte."""

import datetime as dt
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction

from apiaries.actions import add_region, found_club
from apiaries.models import Person
from apiaries.permissions import Role
from config.demo import load as loading
from config.demo.scenario import Scale
from counts.models import MiteSample
from reports.export.catalogue import BACK, TABLES
from reports.export.reading import read_export
from reports.export.returning import bring_back, own_of
from reports.export.writing import Form, write_export
from tests.cast import join, make_cast, make_person
from tests.config.test_demo import NOW as DEMO_NOW
from tests.flows.nasty import make_nasty

pytestmark = [pytest.mark.slow, pytest.mark.django_db]
FORMS = list(Form)
# After whatever the clock says while the demo is made.
AT = dt.datetime(2036, 1, 1, tzinfo=dt.UTC)


@dataclass
class Trip:
    """The file that left, and those that the new account gives after each form was brought into it."""

    left: dict[Form, bytes]
    again: dict[Form, dict[Form, bytes]]


def file_of(person: Person, form: Form) -> bytes:
    file = io.BytesIO()
    write_export(person, form, file, at=AT)
    return file.getvalue()


def pieces(form: Form, data: bytes) -> dict[str, bytes]:
    """The bytes of each table, and of whatever else shapes it; without the stamp and without tables to read only."""
    if form is Form.JSON:
        _, *tables = data.decode().split(',\n"')
        return {
            name: rest.encode() for name, rest in (one.split('": [', 1) for one in tables) if name in BACK
        }
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        if form is Form.CSV:
            return {name: packed.read(f"{name}.csv") for name in BACK}
        sheets = {table.name: f"xl/worksheets/sheet{at}.xml" for at, table in enumerate(TABLES, 2)}
        found = {name: packed.read(path) for name, path in sheets.items() if name in BACK}
        return found | {"styles": packed.read("xl/styles.xml"), "workbook": packed.read("xl/workbook.xml")}


def travel(make: Callable[[], Person], regions: tuple[str, ...]) -> Trip:
    """Make a keeper, take everything, undo all of it; then into an empty club, once from each form."""
    with transaction.atomic():
        keeper = make()
        name, left = keeper.name, {form: file_of(keeper, form) for form in FORMS}
        transaction.set_rollback(True)
    again = {}
    for form in FORMS:
        with transaction.atomic():
            person = _newcomer(name, regions)
            package = read_export(left[form])
            assert package.troubles == []
            assert own_of(package).left_out == 0
            here = {one.name: one for one in person.membership.club.regions.all()}
            bring_back(package=package, regions=here, person=person, at=AT, by=person)
            again[form] = {other: file_of(person, other) for other in FORMS}
            transaction.set_rollback(True)
    return Trip(left, again)


def _newcomer(name: str, regions: tuple[str, ...]) -> Person:
    """A member of a club in which nothing has happened yet, on a server where nothing has."""
    assert not MiteSample.objects.exists()
    founder = make_person("Founder")
    club = found_club(name="Elsewhere", time_zone="America/New_York", administrator=founder)
    for region in regions:
        add_region(club=club, name=region, by=founder)
    person = join(club, make_person("Newcomer"), Role.MEMBER)
    person.name = name
    person.save()
    return Person.objects.get(pk=person.pk)


def _demo_keeper() -> Person:
    loading.load(now=DEMO_NOW, scale=Scale(keepers=6, yards=8, colonies=30))
    return Person.objects.get(email=loading.KEEPER)


def _nasty_keeper() -> Person:
    cast = make_cast()
    make_nasty(cast)
    return Person.objects.get(pk=cast.alice.pk)


@pytest.fixture(scope="module")
def trips(django_db_setup: Any, django_db_blocker: Any) -> Any:
    """Made once for the module."""
    with django_db_blocker.unblock(), transaction.atomic():
        call_command("load_reference", verbosity=0)
        yield {
            "demo": travel(_demo_keeper, ("North Fork",)),
            "nasty": travel(_nasty_keeper, ("North",)),
        }
        transaction.set_rollback(True)


@pytest.mark.parametrize("who", ["demo", "nasty"])
@pytest.mark.parametrize("back_from", FORMS)
@pytest.mark.parametrize("form", FORMS)
def test_what_comes_back_leaves_again_as_it_was(
    trips: dict[str, Trip], who: str, back_from: Form, form: Form
) -> None:
    before, after = pieces(form, trips[who].left[form]), pieces(form, trips[who].again[back_from][form])

    assert before.keys() == after.keys()
    for name in before:
        assert after[name] == before[name], name


@pytest.mark.parametrize("who", ["demo", "nasty"])
def test_there_is_something_of_everything(trips: dict[str, Trip], who: str) -> None:
    package = read_export(trips[who].left[Form.CSV])

    empty = {name for name, rows in package.rows.items() if not rows}
    assert empty <= ({"counts_restored", "ticks"} if who == "demo" else set())
