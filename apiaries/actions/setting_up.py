"""Setting up: a club's own choices, a yard with its colonies in one step."""

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal

from apiaries.actions.colonies import add_colonies
from apiaries.actions.yards import add_yard
from apiaries.history import action
from apiaries.models import Club, Person, Region, Yard
from apiaries.visit_rules import OpenRule


@action
def edit_club(
    *,
    club: Club,
    name: str,
    time_zone: str,
    jurisdiction: str,
    action_level_issuer: str,
    bees_per_half_cup: int,
    by: Person,
) -> Club:
    """New choices of a club. Estimates made before keep the number of bees they were made with."""
    club.name, club.time_zone, club.jurisdiction = name.strip(), time_zone, jurisdiction
    club.action_level_issuer, club.bees_per_half_cup = action_level_issuer, bees_per_half_cup
    club.full_clean()
    club.save(update_fields=["name", "time_zone", "jurisdiction", "action_level_issuer", "bees_per_half_cup"])
    return club


@action
def set_visit_rule(*, club: Club, rule: str, share_percent: int, at_least: int, by: Person) -> Club:
    """How many colonies inspectors open from now on; the two numbers are of the club's own rule.

    Visits recorded before keep the rule and the number they were made by. Errors: ValueError for numbers of no rule.
    """
    OpenRule("own", "", share_percent, at_least, at_least)
    club.visit_rule, club.visit_share_percent, club.visit_at_least = rule, share_percent, at_least
    club.full_clean()
    club.save(update_fields=["visit_rule", "visit_share_percent", "visit_at_least"])
    return club


@action
def set_count_months(*, club: Club, months: Iterable[int], by: Person) -> Club:
    """The months in which the club asks for a count in every yard; none asks for none."""
    chosen = sorted(set(months))
    if not all(1 <= month <= 12 for month in chosen):
        raise ValueError("A month is a number from 1 to 12.")
    club.count_months = chosen
    club.save(update_fields=["count_months"])
    return club


@action
def set_up_yard(
    *,
    keeper: Person,
    region: Region,
    name: str,
    latitude: Decimal | None,
    longitude: Decimal | None,
    area_only: bool = False,
    colonies: Sequence[str],
    started_on: dt.date,
    started_known: bool = True,
    by: Person,
) -> Yard:
    """A yard and its colonies, both or neither; `colonies` may be empty."""
    yard = add_yard(
        keeper=keeper,
        region=region,
        name=name,
        latitude=latitude,
        longitude=longitude,
        area_only=area_only,
        by=by,
    )
    if colonies:
        add_colonies(yard=yard, names=colonies, started_on=started_on, started_known=started_known, by=by)
    return yard
