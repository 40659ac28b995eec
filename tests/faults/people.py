"""Keepers in any number, each owed a recount: the first through the real actions, the others as copies of its rows."""

import datetime as dt
import uuid
from collections.abc import Iterable, Sequence

from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from apiaries.actions import add_numbered_colonies, add_region, add_yard, found_club
from apiaries.models import Colony, Membership, Person, Yard
from apiaries.models.places import new_label_code
from apiaries.permissions import Role
from reports.due_days import local_day
from tests.cast import join, make_person
from tests.reports.treating import treated
from treatments.models import Dose, Recount, Round, Treatment

BERLIN = "Europe/Berlin"
PORTION = 1000


def due_now(number: int, name: str = "Keeper") -> list[Person]:
    """Keepers who are owed a mail at this moment of the real clock: it is about noon where they live."""
    now = timezone.now()
    hours = (12 - now.hour + 11) % 24 - 11
    zone = f"Etc/GMT{-hours:+d}"  # the sign of these names is the other way round
    given_on = local_day(now, zone) - dt.timedelta(days=14)  # and the recount is due from today on
    return keepers(number, given_on=[given_on], recorded_at=now - dt.timedelta(days=10), zone=zone, name=name)


def keepers(
    number: int,
    *,
    given_on: Sequence[dt.date],
    recorded_at: dt.datetime,
    zone: str = BERLIN,
    name: str = "Keeper",
) -> list[Person]:
    """So many keepers of a new club; each owes a recount for every day in `given_on` (oxalic acid by vapour)."""
    if not Treatment._meta.get_field("application").related_model.objects.exists():
        call_command("load_reference", verbosity=0)
    first = _first_keeper(given_on, recorded_at, zone, name)
    made = [first, *_copies(first, range(1, number))]
    with connection.cursor() as cursor:
        cursor.execute(
            "ANALYZE"
        )  # as the server does by itself within a minute; its plans are poor until then
    return made


def _first_keeper(given_on: Sequence[dt.date], recorded_at: dt.datetime, zone: str, name: str) -> Person:
    founder = make_person(f"Founder-of-{name}")
    club = found_club(name=f"Club of {name}", time_zone=zone, administrator=founder)
    region = add_region(club=club, name="North", by=founder)
    keeper = join(club, make_person(f"{name}0"), Role.MEMBER)
    Person.objects.filter(pk=keeper.pk).update(time_zone=zone)
    keeper.refresh_from_db()
    yard = add_yard(keeper=keeper, region=region, name="Yard", by=keeper)
    colonies = add_numbered_colonies(
        yard=yard, first=1, last=len(given_on), started_on=min(given_on) - dt.timedelta(days=90), by=keeper
    )
    for colony, on in zip(colonies, given_on, strict=True):
        treated([colony], on=on, saved=recorded_at)
    return keeper


def _copies(first: Person, numbers: Iterable[int]) -> list[Person]:
    """Rows like the first keeper's, for others."""
    people = [
        _copy(first, email=first.email.replace("0@", f"{number}@"), name=first.name.replace("0", str(number)))
        for number in numbers
    ]
    Person.objects.bulk_create(people, PORTION)
    place = Membership.objects.get(person=first)
    Membership.objects.bulk_create([_copy(place, person=person) for person in people], PORTION)
    yard = Yard.objects.get(keeper=first)
    yards = [_copy(yard, keeper=person) for person in people]
    Yard.objects.bulk_create(yards, PORTION)
    for colony in Colony.objects.filter(yard=yard).order_by("pk"):
        colonies = [_copy(colony, yard=other, label_code=new_label_code()) for other in yards]
        Colony.objects.bulk_create(colonies, PORTION)
        _copy_treatments(colony, colonies)
    return people


def _copy_treatments(colony: Colony, colonies: list[Colony]) -> None:
    for dose in Dose.objects.filter(colony=colony).select_related("round__treatment__recount"):
        treatment = dose.round.treatment
        treatments = [
            _copy(treatment, yard=other.yard, recorded_by=other.yard.keeper, entry_key=uuid.uuid4())
            for other in colonies
        ]
        Treatment.objects.bulk_create(treatments, PORTION)
        rounds = [_copy(dose.round, treatment=one) for one in treatments]
        Round.objects.bulk_create(rounds, PORTION)
        doses = [_copy(dose, round=one, colony=other) for one, other in zip(rounds, colonies, strict=True)]
        Dose.objects.bulk_create(doses, PORTION)
        Recount.objects.bulk_create([_copy(treatment.recount, treatment=one) for one in treatments], PORTION)


def _copy(row, **changes):
    """A row not yet kept, with the same values but these."""
    fields = {
        field.name: getattr(row, field.name) for field in row._meta.concrete_fields if not field.primary_key
    }
    return type(row)(**(fields | changes))
