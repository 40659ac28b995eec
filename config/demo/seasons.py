"""Lets the invented keepers live through three seasons: count, treat, recount, forget, in the order of the days."""

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from apiaries.models import Brood, Colony
from config.demo.bees import KILL
from config.demo.people import YardOfBees
from counts.actions import NewCount, record_samples
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from treatments.actions import NewDose, NewRound, NewTreatment, record_treatment, skip_recount
from treatments.models import Application, Treatment

HABITS = ((Method.ALCOHOL_WASH, 0.6), (Method.SUGAR_ROLL, 0.2), (Method.BOARD, 0.2))
SUMMER_WAYS = (("formic_gel_strip_us", 0.45), ("amitraz_strip_us", 0.35), ("hop_beta_acids_strip_us", 0.20))
WINTER_WAY = "oxalic_vapour_us"
FAILING = ("amitraz_strip_us", "Lakeshore", 0.35)  # invented: in this region the strips kill a third only


@dataclass(frozen=True)
class Clock:
    """Today and the moment of recording for a day, so that nothing is recorded in the future."""

    today: dt.date
    now: dt.datetime

    def evening_of(self, on: dt.date) -> dt.datetime:
        """22:00 UTC of the day, or now if that has not come yet."""
        return min(dt.datetime.combine(on, dt.time(22), tzinfo=dt.UTC), self.now)


def live_through(place: YardOfBees, years: Iterable[int], clock: Clock, random: Random) -> None:
    """All that happens in one yard. What lies in the future is left out."""
    method = random.choices([habit for habit, _ in HABITS], [weight for _, weight in HABITS])[0]
    diligence = random.uniform(0.45, 0.95)
    for year in years:
        for month, day in ((5, 10), (7, 1)):
            if random.random() < diligence:
                _count(place, _near(dt.date(year, month, day), 8, random), method, clock, random)
        _summer(place, year, method, diligence, clock, random)
        if random.random() < diligence:
            _count(place, _near(dt.date(year, 10, 12), 6, random), method, clock, random)
        _winter(place, year, method, diligence, clock, random)


def _summer(
    place: YardOfBees, year: int, method: Method, diligence: float, clock: Clock, random: Random
) -> None:
    start = _near(dt.date(year, 8, 8), 9, random)
    if random.random() < diligence:
        _count(place, start - dt.timedelta(days=random.randint(1, 6)), method, clock, random)
    if random.random() < 0.85:
        way = random.choices([way for way, _ in SUMMER_WAYS], [weight for _, weight in SUMMER_WAYS])[0]
        _treat_and_recount(place, way, start, method, diligence, clock, random)


def _winter(
    place: YardOfBees, year: int, method: Method, diligence: float, clock: Clock, random: Random
) -> None:
    start = _near(dt.date(year, 11, 25), 10, random)
    if random.random() < diligence * 0.6:
        _count(place, start - dt.timedelta(days=random.randint(4, 9)), method, clock, random)
        _treat_and_recount(place, WINTER_WAY, start, method, diligence, clock, random)


def _treat_and_recount(
    place: YardOfBees,
    way: str,
    start: dt.date,
    method: Method,
    diligence: float,
    clock: Clock,
    random: Random,
) -> None:
    treatment = treat(place, way, start, clock, random)
    if treatment is None:
        return
    recount = treatment.recount
    on = recount.ideal_on + dt.timedelta(days=random.randint(0, 6))
    if random.random() < diligence:
        _count(place, on, method, clock, random)
    elif recount.latest_on + dt.timedelta(days=10) < clock.today:
        skip_recount(
            recount=recount,
            why="The season was over before there was time",
            at=clock.evening_of(recount.latest_on),
            by=place.keeper,
        )


def treat(
    place: YardOfBees,
    way: str,
    start: dt.date,
    clock: Clock,
    random: Random,
    *,
    colonies: list[Colony] | None = None,
    kill: float | None = None,
) -> Treatment | None:
    """Treat the yard; None if the day has not come. Strips come out on the last day of the label."""
    if start > clock.today:
        return None
    application = Application.objects.get(key=way)
    chosen = colonies or place.colonies
    out_on: dt.date | None = start + dt.timedelta(days=application.stays_in_days)
    if not application.stays_in_days or (out_on and out_on > clock.today):
        out_on = None
    doses = tuple(NewDose(colony, _dose(application, colony)) for colony in chosen)
    treatment = record_treatment(
        new=NewTreatment(
            yard=place.yard,
            application=application,
            rounds=(NewRound(planned_on=start, given_on=start, out_on=out_on, doses=doses),),
            product="invented product",
            batch=f"B{random.randint(100, 999)}",
            withdrawal_days=0,
            entry_key=uuid.UUID(int=random.getrandbits(128)),
        ),
        at=clock.evening_of(out_on or start),
        by=place.keeper,
    )
    share = KILL[application.ingredient] if kill is None else kill
    if kill is None and (way, place.yard.region.name) == FAILING[:2]:
        share = FAILING[2]
    if way == WINTER_WAY and start.month in range(4, 10):
        share *= 0.5  # with brood it does not reach the mites under the cappings
    for colony in chosen:
        place.bees[colony.pk].treated(out_on or start, share)
    return treatment


def _dose(application: Application, colony: Colony) -> Decimal:
    amount = application.dose_amount or Decimal(1)
    return amount * colony.brood_boxes if application.dose_unit.endswith("per_brood_box") else amount


def _count(place: YardOfBees, on: dt.date, method: Method, clock: Clock, random: Random) -> list[MiteSample]:
    """Count some colonies of the yard on a day, chosen at random as one should."""
    if on > clock.today:
        return []
    chosen = random.sample(place.colonies, k=min(len(place.colonies), random.randint(3, 8)))
    return record_samples(
        counts=[_counted(place, colony, on, method, random) for colony in chosen],
        at=clock.evening_of(on),
        by=place.keeper,
    )


def _counted(place: YardOfBees, colony: Colony, on: dt.date, method: Method, random: Random) -> NewCount:
    bees = place.bees[colony.pk]
    key = uuid.UUID(int=random.getrandbits(128))
    brood = Brood.NONE if on.month in (11, 12, 1, 2) else Brood.PLENTY
    if method is Method.BOARD:
        days = random.choice([2, 3, 3, 4])
        return NewCount(
            colony,
            method,
            on,
            bees.found_on_board(on, days),
            board_days=Decimal(days),
            brood=brood,
            entry_key=key,
        )
    counted = random.random() < 0.4
    jar = max(180, round(random.gauss(300, 25))) if counted else 300
    measured = BeesBy.COUNTED if counted and jar != 300 else BeesBy.VOLUME
    found = bees.found_in_jar(on, jar, method)
    return NewCount(colony, method, on, found, bees=jar, bees_by=measured, brood=brood, entry_key=key)


def _near(on: dt.date, days: int, random: Random) -> dt.date:
    return on + dt.timedelta(days=random.randint(-days, days))
