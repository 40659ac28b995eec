"""A club like the demo's, made quickly: its keepers and yards, and the months of yards straight as they are added up.

Some yards of each month are held back and come in late, one of each region, month and kind. All of it is invented.
"""

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from random import Random

import h3
import numpy as np

from apiaries.models import Club, Membership, Person, Region, Yard
from apiaries.permissions import Role
from config.demo.scenario import REGIONS, Scale, keepers
from counts.samples import Kind
from reports.models import BroodSeen, RegionMonthMark, YardMonth
from tests.cast import join, make_person

SEED, YEAR = 20260812, 2025
MONTHS = tuple(dt.date(YEAR, number, 1) for number in range(4, 11))
USUAL = {Kind.WASH: (0.3, 0.5, 0.9, 1.6, 2.6, 3.6, 3.0), Kind.ROLL: (0.2, 0.4, 0.7, 1.2, 2.0, 2.8, 2.2)}
USUAL[Kind.BOARD] = (1.0, 2.0, 3.5, 6.0, 9.0, 14.0, 12.0)
"""The middle yard of each month, per 100 bees or day."""
HOW_OFTEN = {Kind.WASH: 0.25, Kind.ROLL: 0.14, Kind.BOARD: 0.18}
"""So seldom that many months are just large enough to be shown: the attacker likes these best."""
PER = {Kind.WASH: 100, Kind.ROLL: 100, Kind.BOARD: 1}

Cell = tuple[str, dt.date, str]

WHERE = {
    region: sorted(h3.grid_disk(h3.latlng_to_cell(50.0, 9.0 + 4 * place, 5), 1))[:2]
    for place, region in enumerate(REGIONS)
}
"""Cells of the map in which the yards of a region stand: few, so that pieces of many months may be shown."""


@dataclass(frozen=True)
class Vote:
    """What one yard counted in a month: the truth that the attacker is after, in the unit of the pages."""

    yard: int
    keeper: int
    rate: float
    row: YardMonth = field(compare=False)


@dataclass
class Crowd:
    """The club, somebody of each role, and who counted what, in time and late."""

    club: Club
    member: Person
    coordinator: Person
    votes: dict[Cell, list[Vote]] = field(default_factory=dict)
    late: dict[Cell, Vote] = field(default_factory=dict)

    def come_late(self) -> None:
        """What was held back is logged."""
        YardMonth.objects.bulk_create(vote.row for vote in self.late.values())
        mark(vote.row for vote in self.late.values())


def make_crowd() -> Crowd:
    """60 keepers with 140 yards in four regions, and what they counted from April to October."""
    dice = np.random.default_rng(SEED)
    club = Club.objects.create(
        name="Invented club", time_zone="Europe/Berlin", action_level_issuer="us_usda_ars_tucson"
    )
    Club.objects.filter(pk=club.pk).update(founded_at=dt.datetime(YEAR, 1, 1, tzinfo=dt.UTC))
    crowd = Crowd(
        club=club,
        member=join(club, make_person("Plain"), Role.MEMBER),
        coordinator=join(club, make_person("Coral"), Role.COORDINATOR),
    )
    for region, yards in _yards(club).items():
        for month in MONTHS:
            for kind in USUAL:
                _count(crowd, (region.name, month, kind.value), yards, region, dice)
    kept = [vote.row for votes in crowd.votes.values() for vote in votes]
    YardMonth.objects.bulk_create(kept)
    mark(kept)
    return crowd


def _yards(club: Club) -> dict[Region, list[Yard]]:
    regions = {name: Region.objects.create(club=club, name=name) for name in REGIONS}
    plans = keepers(Scale(), Random(SEED))  # noqa: S311  (invented, no secret)
    people = Person.objects.bulk_create(
        Person(email=f"keeper{number}@example.org", name=f"Keeper {number}", time_zone=club.time_zone)
        for number in range(len(plans))
    )
    Membership.objects.bulk_create(
        Membership(club=club, person=person, role=Role.MEMBER) for person in people
    )
    yards = Yard.objects.bulk_create(
        Yard(
            club=club,
            keeper=person,
            region=regions[plan.region],
            name=f"Yard {place}",
            time_zone="UTC",
            cell=WHERE[plan.region][place % 2],
        )
        for person, plan in zip(people, plans, strict=True)
        for place in range(len(plan.colonies))
    )
    return {region: [yard for yard in yards if yard.region == region] for region in regions.values()}


def _count(crowd: Crowd, cell: Cell, yards: list[Yard], region: Region, dice: np.random.Generator) -> None:
    """Who of the yards counted this kind in this month; the last of them comes late."""
    month, kind = cell[1], Kind(cell[2])
    usual = USUAL[kind][MONTHS.index(month)]
    votes = []
    for yard in yards:
        if dice.random() > HOW_OFTEN[kind]:
            continue
        colonies = int(dice.integers(2, 8))
        exposure = colonies * (3.0 if kind is Kind.BOARD else 270.0)
        mites = int(dice.poisson(usual / PER[kind] * math.exp(dice.normal(0.0, 0.8)) * exposure))
        row = YardMonth(
            yard=yard,
            region=region,
            keeper_id=yard.keeper_id,
            month=month,
            kind=kind,
            brood=dice.choice([BroodSeen.WITH, BroodSeen.WITHOUT], p=[0.6, 0.4]),
            treated_days=dice.choice(np.array([10, 100, None]), p=[0.4, 0.3, 0.3]),
            samples=colonies,
            colonies=colonies,
            zeros=colonies if not mites else 0,
            mites=mites,
            bees=None if kind is Kind.BOARD else colonies * 300,
            exposure=exposure,
            squared_cv=0.3 / colonies,
        )
        votes.append(Vote(yard.pk, yard.keeper_id, mites / exposure * PER[kind], row))
    if votes:
        crowd.late[cell] = votes.pop()
        crowd.votes[cell] = votes


def mark(rows: Iterable[YardMonth]) -> None:
    """Say that the months of these rows need working out again."""
    RegionMonthMark.objects.bulk_create(
        RegionMonthMark(region_id=region, month=month, marked_at=dt.datetime(YEAR, 11, 1, tzinfo=dt.UTC))
        for region, month in {(row.region_id, row.month) for row in rows}
    )
