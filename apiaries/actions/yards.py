"""Yards and their helpers."""

import datetime as dt
from decimal import Decimal

from apiaries.history import action
from apiaries.models import Person, Region, Yard, YardHelper
from apiaries.models.places import coarse_cell


class NotAMember(ValueError):
    """The person does not belong to the yard's club."""


class OwnYard(ValueError):
    """The keeper of a yard cannot be its helper."""


@action
def add_yard(
    *,
    keeper: Person,
    region: Region,
    name: str,
    latitude: Decimal | None = None,
    longitude: Decimal | None = None,
    area_only: bool = False,
    by: Person,
) -> Yard:
    """A yard of `keeper` in a region of their club. Its clock is the club's.

    With `area_only` the coarse cell of the place is kept, and the place is not.
    """
    membership = keeper.membership
    if membership is None or region.club_id != membership.club_id:
        raise NotAMember("A yard belongs to the keeper's own club.")
    yard = Yard(
        club=membership.club,
        keeper=keeper,
        region=region,
        name=name.strip(),
        time_zone=membership.club.time_zone,
    )
    _place(yard, latitude, longitude, area_only=area_only)
    yard.full_clean()
    yard.save()
    return yard


@action
def edit_yard(
    *,
    yard: Yard,
    name: str,
    region: Region,
    latitude: Decimal | None,
    longitude: Decimal | None,
    area_only: bool = False,
    by: Person,
) -> Yard:
    """New name, region or place. Counts made before keep the yard, and so its region of today.

    `area_only` without a place keeps the area that is known already.
    """
    if region.club_id != yard.club_id:
        raise NotAMember("A region of another club.")
    yard.name, yard.region = name.strip(), region
    _place(yard, latitude, longitude, area_only=area_only)
    yard.full_clean()
    yard.save(update_fields=["name", "region", "latitude", "longitude", "cell"])
    return yard


@action
def add_helper(*, yard: Yard, person: Person, by: Person) -> YardHelper:
    """Somebody of the same club may log in this yard from now on; adding twice changes nothing."""
    if person.pk == yard.keeper_id:
        raise OwnYard("You keep this yard.")
    membership = person.membership
    if membership is None or membership.club_id != yard.club_id:
        raise NotAMember("A helper must belong to the same club.")
    standing: YardHelper | None = yard.helpers.filter(person=person, ended_at=None).first()
    if standing is not None:
        return standing
    helper = YardHelper(yard=yard, person=person, added_by=by)
    helper.full_clean()
    helper.save()
    return helper


@action
def end_helper(*, helper: YardHelper, at: dt.datetime, by: Person) -> YardHelper:
    """They no longer log here; what they logged stays."""
    helper.ended_at, helper.ended_by = at, by
    helper.save(update_fields=["ended_at", "ended_by"])
    return helper


def _place(yard: Yard, latitude: Decimal | None, longitude: Decimal | None, *, area_only: bool) -> None:
    yard.latitude, yard.longitude = (None, None) if area_only else (latitude, longitude)
    if latitude is not None and longitude is not None:
        yard.cell = coarse_cell(float(latitude), float(longitude))
    elif not area_only:
        yard.cell = ""
