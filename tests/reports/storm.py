"""One process of a storm of changes: python -m tests.reports.storm SEED CHANGES

Saves, corrects and voids counts, imports whole days, moves colonies and yards, gives and cancels treatments, and works
marked figures out in between, each through the real action and in a transaction of its own. Prints how often each
was done, and how often one found that another process had been there before.
"""

import datetime as dt
import random
import sys
from collections import Counter
from decimal import Decimal

import django

if __name__ == "__main__":
    django.setup()

from apiaries.actions import edit_yard, move_colony  # noqa: E402
from apiaries.actions.colonies import NameTaken, SameYard  # noqa: E402
from apiaries.models import Colony, Region, Yard  # noqa: E402
from counts.actions import AlreadyVoided, correct_sample, record_samples, void_sample  # noqa: E402
from counts.models import MiteSample  # noqa: E402
from counts.samples import Method  # noqa: E402
from reports.figures import refresh_marked  # noqa: E402
from tests.reports.counting import AT, new_count  # noqa: E402
from treatments.actions import (  # noqa: E402
    AlreadyClosed,
    NewDose,
    NewRound,
    NewTreatment,
    NotPossible,
    TwiceAtOnce,
    cancel_treatment,
    record_treatment,
)
from treatments.models import Application, Treatment  # noqa: E402

CHANGES = {
    "count": 40,
    "correct": 15,
    "void": 8,
    "import": 4,
    "move": 6,
    "yard": 4,
    "treat": 4,
    "cancel": 2,
    "tick": 5,
}
METHODS = (Method.ALCOHOL_WASH, Method.ALCOHOL_WASH, Method.SUGAR_ROLL, Method.BOARD)
BROOD = ("unknown", "none", "some")
NOT_ANY_MORE = (AlreadyVoided, AlreadyClosed, NameTaken, SameYard, NotPossible, TwiceAtOnce)


def main(seed: int, changes: int) -> None:
    dice, done = random.Random(seed), Counter[str]()
    for _ in range(changes):
        (what,) = dice.choices(list(CHANGES), list(CHANGES.values()))
        try:
            globals()[f"_{what}"](dice)
            done[what] += 1
        except NOT_ANY_MORE:
            done["too late"] += 1
    sys.stdout.write(f"{dict(sorted(done.items()))}\n")


def _day(dice: random.Random) -> dt.date:
    return dt.date(2026, dice.randint(4, 9), dice.randint(1, 28))


def _colony(dice: random.Random) -> Colony:
    return dice.choice(list(Colony.objects.select_related("yard__club", "yard__keeper").order_by("pk")))


def _new(dice: random.Random, colony: Colony, on: dt.date):
    return new_count(colony, on, dice.choice([0, 2, 9, 40]), dice.choice(METHODS), brood=dice.choice(BROOD))


def _standing(dice: random.Random) -> MiteSample:
    """Often the newest, so that processes meet at the same one."""
    newest = (
        MiteSample.objects.standing().select_related("colony", "yard__club", "yard__keeper").order_by("-pk")
    )
    return dice.choice(list(newest[:20]))


def _count(dice: random.Random) -> None:
    colony = _colony(dice)
    record_samples(counts=[_new(dice, colony, _day(dice))], at=AT, by=colony.yard.keeper)


def _import(dice: random.Random) -> None:
    yard = dice.choice(list(Yard.objects.select_related("keeper").order_by("pk")))
    colonies = list(yard.colonies.select_related("yard__club").order_by("pk"))
    counts = [_new(dice, colony, _day(dice)) for colony in colonies for _ in range(5)]
    record_samples(counts=counts, at=AT, by=yard.keeper)


def _correct(dice: random.Random) -> None:
    wrong = _standing(dice)
    fresh = _new(dice, wrong.colony, _day(dice))
    correct_sample(sample=wrong, count=fresh, why="typo", at=AT, by=wrong.recorded_by)


def _void(dice: random.Random) -> None:
    sample = _standing(dice)
    void_sample(sample=sample, why="wrong hive", at=AT, by=sample.recorded_by)


def _move(dice: random.Random) -> None:
    colony = _colony(dice)
    target = dice.choice(list(Yard.objects.filter(club=colony.yard.club).order_by("pk")))
    move_colony(colony=colony, to_yard=target, moved_on=_day(dice), by=colony.yard.keeper)


def _yard(dice: random.Random) -> None:
    yard = dice.choice(list(Yard.objects.select_related("keeper").order_by("pk")))
    region = dice.choice(list(Region.objects.filter(club=yard.club_id).order_by("pk")))
    edit_yard(yard=yard, name=yard.name, region=region, latitude=None, longitude=None, by=yard.keeper)


def _treat(dice: random.Random) -> None:
    colony, on = _colony(dice), _day(dice)
    doses = (NewDose(colony, Decimal(2)),)
    new = NewTreatment(
        yard=colony.yard,
        application=Application.objects.get(key="oxalic_vapour_us"),
        rounds=(NewRound(planned_on=on, given_on=on, doses=doses),),
        withdrawal_days=0,
    )
    record_treatment(new=new, at=AT, by=colony.yard.keeper)


def _cancel(dice: random.Random) -> None:
    treatments = list(Treatment.objects.standing().select_related("recorded_by").order_by("-pk")[:10])
    if treatments:
        treatment = dice.choice(treatments)
        cancel_treatment(treatment=treatment, why="rain", at=AT, by=treatment.recorded_by)


def _tick(_: random.Random) -> None:
    refresh_marked(at=AT)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
