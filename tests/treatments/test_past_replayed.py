"""The promise of the row history: replayed, it gives the rows as they are; and a past tells exactly its differences."""

import datetime as dt
import uuid
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from apiaries.actions import (
    add_colonies,
    add_helper,
    add_region,
    add_yard,
    change_role,
    describe_colony,
    edit_club,
    edit_yard,
    end_colony,
    end_helper,
    move_colony,
    rename_region,
    requeen_colony,
    set_count_months,
    set_sharing,
    split_colony,
    undo_change,
    unite_colonies,
)
from apiaries.models import Brood, Colony, ColonyChange, Membership, Person, Region, Yard, YardHelper
from apiaries.permissions import Role
from apiaries.row_history import event_model, row_of
from apiaries.telling import facts
from apiaries.what_changed import past_of_fact
from counts.actions import NewCount, correct_sample, record_samples, void_sample
from counts.change_actions import restore_sample
from counts.models import CountWeek, MiteSample
from counts.samples import BeesBy, Method
from counts.week_actions import cancel_count_week, set_count_week
from tests.cast import Cast
from treatments.actions import (
    NewDose,
    NewRound,
    NewTreatment,
    cancel_treatment,
    give_round,
    record_treatment,
    skip_recount,
    take_out,
)
from treatments.day_actions import NewHive, NewSheet, keep_device, plan_day, put_away_device, set_sheet
from treatments.device_actions import add_device
from treatments.medicine_actions import (
    NewDisposal,
    NewPurchase,
    RecordFields,
    complete_record,
    correct_disposal,
    correct_purchase,
    record_disposal,
    record_purchase,
    void_disposal,
    void_purchase,
)
from treatments.models import (
    Application,
    Device,
    Dose,
    MedicineDisposal,
    MedicinePurchase,
    Recount,
    Round,
    Treatment,
)

AT = dt.datetime(2026, 8, 12, 10, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)
Do = Callable[[Cast, int], object]


def one(rows: Any, n: int) -> Any:
    """The n-th of the rows, going round; the draw is refused where there is none."""
    found = list(rows.order_by("pk"))
    if not found:
        raise ValueError("There is none yet.")
    return found[n % len(found)]


def count(colony: Colony, n: int) -> NewCount:
    return NewCount(
        colony,
        Method.ALCOHOL_WASH,
        ON - dt.timedelta(days=n % 5),
        n % 40,
        bees=250 + n % 80,
        bees_by=BeesBy.COUNTED if n % 2 else BeesBy.VOLUME,
        note="windy" if n % 3 else "",
    )


def record(cast: Cast, n: int) -> object:
    colonies = [one(living(), n), one(living(), n + 1)]
    return record_samples(counts=[count(colony, n) for colony in set(colonies)], at=AT, by=cast.alice)


def correct(cast: Cast, n: int) -> object:
    sample = one(MiteSample.objects.all(), n)
    return correct_sample(
        sample=sample, count=count(sample.colony, n + 1), why="misread", at=AT, by=cast.alice
    )


def living() -> Any:
    return Colony.objects.living().filter(yard__keeper__name="Alice")


def describe(cast: Cast, n: int) -> object:
    colony = one(living(), n)
    return describe_colony(
        colony=colony,
        name=colony.name if n % 2 else f"{colony.name[:8]}-{n}",
        brood_boxes=1 + n % 6,
        supers_on=bool(n % 3),
        brood=[Brood.UNKNOWN, Brood.SOME, Brood.PLENTY][n % 3],
        brood_seen_on=ON,
        by=cast.alice,
    )


def alter_yard(cast: Cast, n: int) -> object:
    yard = Yard.objects.get(pk=cast.alice_yard.pk)
    place = (Decimal(50 + n % 9), Decimal(10)) if n % 3 else (None, None)
    return edit_yard(
        yard=yard,
        name=f"Home {n % 4}",
        region=[cast.north, cast.south][n % 2],
        latitude=place[0],
        longitude=place[1],
        area_only=n % 5 == 0,
        by=cast.alice,
    )


def move(cast: Cast, n: int) -> object:
    yard = one(Yard.objects.filter(keeper=cast.alice), n)
    return move_colony(colony=one(living(), n), to_yard=yard, moved_on=ON, by=cast.alice)


def treat(cast: Cast, n: int) -> object:
    way = Application.objects.get(key="formic_gel_strip_us")
    doses = tuple(NewDose(colony, way.dose_amount) for colony in living().filter(yard=cast.alice_yard)[:3])
    rounds = (
        NewRound(planned_on=ON, given_on=ON, doses=doses) if n % 2 else NewRound(planned_on=ON),
        NewRound(planned_on=ON + dt.timedelta(days=30)),
    )
    new = NewTreatment(yard=cast.alice_yard, application=way, rounds=rounds, product="strips")
    return record_treatment(new=new, at=AT, by=cast.alice)


def sheet(cast: Cast, n: int) -> NewSheet:
    hives = list(living().filter(yard=cast.alice_yard).order_by("pk"))[: 1 + n % 4]
    return NewSheet(
        starts_at=dt.time(6 + n % 12),
        hives=tuple(NewHive(colony=colony, amount=Decimal(1 + n % 3)) for colony in hives),
        wait_minutes=Decimal(5),
        sealed_minutes=Decimal(10 + n % 2),
    )


def plan(cast: Cast, n: int) -> object:
    way = Application.objects.get(key="oxalic_vapour_us")
    rounds = (NewRound(planned_on=ON + dt.timedelta(days=n)),)
    new = NewTreatment(yard=cast.alice_yard, application=way, rounds=rounds)
    return plan_day(new=new, sheet=sheet(cast, n), at=AT, by=cast.alice)


def give(cast: Cast, n: int) -> object:
    round_ = one(Round.objects.filter(given_on=None), n)
    colony = one(living().filter(yard=cast.alice_yard), n)
    doses = [NewDose(colony, Decimal(1), why_above="big colony" if n % 2 else "")]
    return give_round(
        round_=round_, given_on=ON - dt.timedelta(days=n % 3), doses=doses, at=AT, by=cast.alice
    )


def complete(cast: Cast, n: int) -> object:
    told = RecordFields(product=f"strips {n % 3}", batch=f"B{n}", withdrawal_days=n % 4 or None)
    return complete_record(
        treatment=one(Treatment.objects.all(), n), told=told, why="read again", at=AT, by=cast.alice
    )


def bought(n: int) -> NewPurchase:
    return NewPurchase(product=f"strips {n % 3}", bought_on=ON, quantity=Decimal(1 + n), unit="strips")


def gone(n: int) -> NewDisposal:
    return NewDisposal(product="strips", disposed_on=ON, quantity=Decimal(1 + n), unit="strips", how="works")


def note_anew(cast: Cast, n: int) -> object:
    device = one(Device.objects.all(), n)
    return keep_device(
        device=device,
        keeper=cast.alice,
        facts={"watts": Decimal(100 + n), "number": 1 + n % 3},
        at=AT,
        by=cast.alice,
    )


def alter_club(cast: Cast, n: int) -> object:
    return edit_club(
        club=cast.club,
        name="Test club",
        time_zone="Europe/Berlin",
        jurisdiction=["any", "DE", "US"][n % 3],
        action_level_issuer="",
        bees_per_half_cup=300 + n,
        by=cast.adam,
    )


def alter_role(cast: Cast, n: int) -> object:
    membership = one(Membership.objects.filter(person__name__in=["Charlie", "Ivan"]), n)
    regions = [[cast.north], [cast.south], [cast.north, cast.south]][n % 3]
    role = [Role.INSPECTOR, Role.COORDINATOR][n % 5 == 0]
    return change_role(membership=membership, role=role, regions=regions, by=cast.adam)


def set_week(cast: Cast, n: int) -> object:
    first = ON + dt.timedelta(days=8 * (n % 4))
    return set_count_week(
        club=cast.club, first_on=first, last_on=first + dt.timedelta(days=n % 6), at=AT, by=cast.dana
    )


DOINGS: tuple[Do, ...] = (
    record,
    record,
    correct,
    lambda cast, n: void_sample(sample=one(MiteSample.objects.all(), n), why="slip", at=AT, by=cast.alice),
    lambda cast, n: restore_sample(
        sample=one(MiteSample.objects.exclude(voided_at=None), n), why="right", at=AT, by=cast.alice
    ),
    describe,
    alter_yard,
    move,
    lambda cast, n: add_yard(keeper=cast.alice, region=cast.south, name=f"Yard {n}", by=cast.alice),
    lambda cast, n: add_colonies(
        yard=cast.alice_yard, names=[f"n{n}"], started_on=ON, started_known=bool(n % 2), by=cast.alice
    ),
    lambda cast, n: requeen_colony(colony=one(living(), n), requeened_on=ON, by=cast.alice),
    lambda cast, n: end_colony(colony=one(living(), n), ended_on=ON, why="sold", by=cast.alice),
    lambda cast, n: split_colony(
        colony=one(living(), n), to_yard=cast.alice_yard, name=f"s{n}", split_on=ON, by=cast.alice
    ),
    lambda cast, n: unite_colonies(
        colony=one(living(), n), into=one(living(), n + 1), united_on=ON, by=cast.alice
    ),
    lambda cast, n: undo_change(
        change=one(ColonyChange.objects.all(), n), why="slip", never_there=bool(n % 2), at=AT, by=cast.alice
    ),
    lambda cast, n: end_helper(helper=one(YardHelper.objects.filter(ended_at=None), n), at=AT, by=cast.alice),
    lambda cast, n: add_helper(yard=cast.alice_yard, person=[cast.bob, cast.charlie][n % 2], by=cast.alice),
    treat,
    plan,
    lambda cast, n: set_sheet(
        round_=one(Round.objects.filter(given_on=None), n), sheet=sheet(cast, n), at=AT, by=cast.alice
    ),
    give,
    lambda cast, n: take_out(
        round_=one(Round.objects.exclude(given_on=None), n), out_on=ON, at=AT, by=cast.alice
    ),
    lambda cast, n: cancel_treatment(
        treatment=one(Treatment.objects.all(), n), why="rain", at=AT, by=cast.alice
    ),
    lambda cast, n: skip_recount(recount=one(Recount.objects.all(), n), why="no time", at=AT, by=cast.alice),
    complete,
    lambda cast, n: record_purchase(keeper=cast.alice, new=bought(n), at=AT, by=cast.alice),
    lambda cast, n: correct_purchase(
        purchase=one(MedicinePurchase.objects.all(), n), new=bought(n + 1), why="bill", at=AT, by=cast.alice
    ),
    lambda cast, n: void_purchase(
        purchase=one(MedicinePurchase.objects.all(), n), why="slip", at=AT, by=cast.alice
    ),
    lambda cast, n: record_disposal(keeper=cast.alice, new=gone(n), at=AT, by=cast.alice),
    lambda cast, n: correct_disposal(
        disposal=one(MedicineDisposal.objects.all(), n), new=gone(n + 1), why="count", at=AT, by=cast.alice
    ),
    lambda cast, n: void_disposal(
        disposal=one(MedicineDisposal.objects.all(), n), why="slip", at=AT, by=cast.alice
    ),
    lambda cast, n: add_device(keeper=cast.alice, facts={"name": f"pan {n}"}, at=AT, by=cast.alice),
    note_anew,
    lambda cast, n: put_away_device(device=one(Device.objects.all(), n), at=AT, by=cast.alice),
    set_week,
    lambda cast, n: cancel_count_week(week=one(CountWeek.objects.all(), n), why="frost", at=AT, by=cast.dana),
    alter_role,
    lambda cast, n: set_sharing(
        membership=cast.alice.memberships.get(), shares_counts=bool(n % 2), by=cast.alice
    ),
    lambda cast, n: add_region(club=cast.club, name=f"Region {n}", by=cast.adam),
    lambda cast, n: rename_region(
        region=one(Region.objects.filter(club=cast.club), n), name=f"Area {n}", by=cast.adam
    ),
    alter_club,
    lambda cast, n: set_count_months(club=cast.club, months=[1 + n % 12, 1 + n % 5], by=cast.adam),
)
_MAKING = {"add_yard", "add_device", "record_purchase", "record_disposal"}
MAKERS = tuple(
    place
    for place, one in enumerate(DOINGS)
    if one in (record, treat, plan, set_week) or _MAKING & set(one.__code__.co_names)
)
"""Done first, so that there is something to change."""
DONE: Counter[int] = Counter()


def do(cast: Cast, which: int, n: int) -> None:
    """One thing that somebody does; what the service refuses leaves nothing behind."""
    for person in (cast.alice, cast.adam, cast.dana):
        vars(person).pop("membership", None)
    try:
        with transaction.atomic():
            DOINGS[which](cast, n)
    except (ValueError, ValidationError):
        return
    DONE[which] += 1


def mismatches() -> list[Any]:
    """Rows that are not what the last thing in their history says; rows in a history whose last word is not true."""
    wrong = []
    for told in facts.tables:
        last: dict[Any, Any] = {}
        for event in event_model(told.model)._base_manager.order_by("pgh_id"):
            last[event.id] = event
        rows = {row.pk: row_of(row) for row in told.model._base_manager.all()}
        for key in rows.keys() | last.keys():
            event = last.get(key)
            gone = event is not None and event.pgh_label == "delete"
            kept = {} if event is None or gone else row_of(event)
            if rows.get(key, {}) != {
                name: value for name, value in kept.items() if name in rows.get(key, kept)
            }:
                wrong.append((told.model.__name__, key, rows.get(key), kept))
    return wrong


SAY_EMPTY = {"visit_rule"}
"""Columns that have words even when they are empty."""


def differences(kind: str, fact: Any, person: Person) -> Counter[str]:
    """How often each label has to stand in the past: consecutive rows of each story, read anew from the tables."""
    found: Counter[str] = Counter()
    for part in facts.kinds[kind].parts(fact, person):
        told, stories = part.told, {}
        which = {
            name.replace("pk", "id", 1) if name.startswith("pk") else name: v
            for name, v in part.which.items()
        }
        for event in event_model(told.model)._base_manager.filter(**which).order_by("pgh_id"):
            stories.setdefault(tuple(getattr(event, name) for name in told.story), []).append(event)
        for events in stories.values():
            before: Any = None
            for place, event in enumerate(events):
                later = events[place + 1] if place + 1 < len(events) else None
                if later is not None and later.pgh_context_id == event.pgh_context_id:
                    continue
                for name, field in told.fields.items():
                    columns = [told.model._meta.get_field(one).attname for one in (name, *field.also)]
                    was = None if before is None else [getattr(before, one) for one in columns]
                    now = [getattr(event, one) for one in columns]
                    given = event.pgh_label != "delete" and (
                        (now[0] not in (None, "", []) or name in SAY_EMPTY) if was is None else was != now
                    )
                    found[field.label] += name not in part.without and given
                before = None if event.pgh_label == "delete" else event
    return +found


def told_of(kind: str, fact: Any, person: Person) -> Counter[str]:
    found: Counter[str] = Counter()
    for change in past_of_fact(kind, fact, person).changes:
        for row in change.rows:
            for field in row.fields:
                found[field.label] += max(1, len(row.named))
    return found


def everything(cast: Cast) -> list[tuple[str, Any, Person]]:
    """Every fact that there is, with somebody who sees all of it."""
    alices = Colony.objects.filter(yard__keeper=cast.alice).select_related("yard")
    return [
        *(("yard", yard, cast.alice) for yard in Yard.objects.filter(keeper=cast.alice)),
        *(("colony", colony, cast.alice) for colony in alices),
        *(("count", sample, cast.alice) for sample in MiteSample.objects.all()),
        *(("treatment", treatment, cast.alice) for treatment in Treatment.objects.all()),
        *(("round", round_, cast.alice) for round_ in Round.objects.all()),
        *(("dose", dose, cast.alice) for dose in Dose.objects.all()),
        *(("recount", recount, cast.alice) for recount in Recount.objects.all()),
        *(("purchase", entry, cast.alice) for entry in MedicinePurchase.objects.all()),
        *(("disposal", entry, cast.alice) for entry in MedicineDisposal.objects.all()),
        *(("device", device, cast.alice) for device in Device.objects.all()),
        *(("week", week, cast.dana) for week in CountWeek.objects.all()),
        *(("membership", one, one.person) for one in Membership.objects.filter(club=cast.club)),
        *(("region", region, cast.adam) for region in Region.objects.filter(club=cast.club)),
        ("club", cast.club, cast.adam),
    ]


class _Undo(Exception):
    pass


@pytest.mark.slow
@pytest.mark.usefixtures("reference")
def test_replayed_history_gives_the_rows_and_the_past_their_differences(cast: Cast) -> None:
    doing = st.tuples(st.sampled_from(range(len(DOINGS))), st.integers(0, 12))
    seen = Counter[str]()

    @settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(st.permutations(range(len(DOINGS))), st.lists(doing, min_size=10, max_size=60))
    def check(each: list[int], more: list[tuple[int, int]]) -> None:
        doings = [*((which, which % 7) for which in each), *more]
        with pytest.raises(_Undo), transaction.atomic():
            for which, n in [*((which, 1) for which in MAKERS), *doings]:
                do(cast, which, n)
            assert not mismatches()
            for kind, fact, person in everything(cast):
                assert told_of(kind, fact, person) == differences(kind, fact, person), (kind, fact)
                seen[kind] += 1
            raise _Undo

    check()

    assert set(seen) == set(facts.kinds), "facts of some kind were never made"
    assert len(DONE) == len(DOINGS), [DOINGS[which] for which in range(len(DOINGS)) if not DONE[which]]


def test_mismatch_is_found(cast: Cast) -> None:
    assert not mismatches()
    event_model(Yard).objects.filter(pgh_obj=cast.alice_yard.pk).update(name="Elsewhere")

    ((model, key, *_),) = mismatches()

    assert (model, key) == ("Yard", cast.alice_yard.pk)


def test_corrections_of_a_count_are_one_story(cast: Cast) -> None:
    (first,) = record_samples(counts=[count(cast.colony, 9)], at=AT, by=cast.alice)
    second = correct_sample(
        sample=first,
        count=count(cast.colony, 11),
        why="misread",
        at=AT + dt.timedelta(hours=1),
        by=cast.alice,
    )
    void_sample(sample=second, why="wrong hive", at=AT + dt.timedelta(hours=2), by=cast.alice)
    restore_sample(sample=second, why="right hive", at=AT + dt.timedelta(hours=3), by=cast.alice)

    past = past_of_fact("count", first, cast.bob)

    assert past == past_of_fact("count", second, cast.bob), "whichever of them one comes from"
    assert [(change.verb, change.why) for change in past.changes] == [
        ("Count restored", "right hive"),
        ("Count voided", "wrong hive"),
        ("Count corrected", "misread"),
        ("Counts noted", ""),
    ]
    corrected = {field.label: (field.was, field.now) for field in past.changes[2].rows[0].fields}
    assert corrected == {
        "Day": ("8 Aug 2026", "11 Aug 2026"),
        "Mites": ("9", "11"),
        "Bees": ("259, counted", "261, counted"),
        "Note": ("nothing", "windy"),
    }


@pytest.mark.usefixtures("reference")
def test_doses_of_one_round_are_told_together(cast: Cast) -> None:
    treatment: Any = treat(cast, 1)
    cancel_treatment(treatment=treatment, why="rain", at=AT + dt.timedelta(hours=1), by=cast.alice)

    cancelled, noted = past_of_fact("treatment", treatment, cast.ines).changes

    assert (cancelled.verb, cancelled.why, noted.verb) == ("Treatment cancelled", "rain", "Treatment noted")
    doses = next(row for row in noted.rows if row.heading == "Dose for colony")
    assert doses.named == ("1", "2", "3")
    assert ("Amount", "2 strips") in [(field.label, field.now) for field in doses.fields]
    assert [row.named for row in cancelled.rows] == [(), ("1", "2", "3")]


@pytest.mark.usefixtures("reference")
def test_sheet_planned_anew_tells_only_what_is_different(cast: Cast) -> None:
    treatment: Any = plan(cast, 1)
    set_sheet(
        round_=treatment.rounds.get(), sheet=sheet(cast, 2), at=AT + dt.timedelta(hours=1), by=cast.alice
    )

    again = past_of_fact("treatment", treatment, cast.alice).changes[0]

    told = [(row.heading, row.named, row.how, [one.label for one in row.fields]) for row in again.rows]
    assert again.verb == "Day planned anew"
    assert told == [
        ("Sheet of the day", (), "changed", ["Starts at", "Hive stays shut"]),
        ("On the sheet: colony", ("1", "2"), "changed", ["Amount"]),
        ("On the sheet: colony", ("3",), "added", ["Place in the walk", "Loads", "Amount"]),
    ]


def test_key_of_a_form_is_told_nowhere(cast: Cast) -> None:
    (sample,) = record_samples(counts=[count(cast.colony, 9)], at=AT, by=cast.alice)

    assert isinstance(sample.entry_key, uuid.UUID)
    assert str(sample.entry_key) not in repr(past_of_fact("count", sample, cast.alice))
