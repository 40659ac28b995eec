"""A keeper whose facts are as awkward as facts can be, made through the real actions."""

import datetime as dt
import uuid
from dataclasses import dataclass
from decimal import Decimal

from apiaries.actions import (
    add_colonies,
    add_helper,
    add_yard,
    describe_colony,
    end_colony,
    move_colony,
    requeen_colony,
    split_colony,
    undo_change,
    unite_colonies,
)
from apiaries.models import Brood, Colony, ColonyChange, Yard
from counts.actions import NewCount, correct_sample, record_sample, void_sample
from counts.change_actions import restore_sample
from counts.samples import BeesBy, Method
from tests.cast import Cast
from treatments.actions import (
    NewDose,
    NewRound,
    NewTreatment,
    cancel_treatment,
    give_round,
    record_treatment,
    set_out_by,
    skip_recount,
    take_out,
)
from treatments.day_actions import (
    NewHive,
    NewSheet,
    keep_device,
    mark_hive,
    plan_day,
    put_away_device,
    undo_mark,
)
from treatments.medicine_actions import (
    NewDisposal,
    NewPurchase,
    correct_purchase,
    record_disposal,
    record_purchase,
    void_disposal,
)
from treatments.models import Application, SheetHive, Step

AT = dt.datetime(2026, 9, 20, 10, 11, 12, 345678, tzinfo=dt.UTC)
DAY = dt.date(2026, 8, 12)
TEXTS = (
    "=1+1",
    "'=1+1",
    "'tis the season",
    "''",
    "+49 30 123",
    "-5",
    "@cmd",
    "one\n=two",
    "one\r\n@two\rthree\n'four",
    'a\ttab, "quotes"; and, commas',
    "\u00a0=after a hard blank",
    "🐝 bees, Völker, 蜂, پرورش زنبور",
    "\u202eright to left\u202c",
    "_x0041_ and _x000D_",
    "odd \x01\x0b\x1f\x7f signs",
    "1e5",
    "0042",
    "TRUE",
    "2026-05-03",
    "null",
    "—",
)


@dataclass
class Texts:
    """One after the other, again and again."""

    at: int = 0

    def __call__(self) -> str:
        self.at += 1
        return TEXTS[self.at % len(TEXTS)]


def make_nasty(cast: Cast) -> None:
    """Of Alice: four more yards, one closed, and in them everything that can happen."""
    alice, text = cast.alice, Texts()
    yards = [
        add_yard(
            keeper=alice,
            region=cast.north,
            name=name,
            latitude=Decimal(latitude) if latitude else None,
            longitude=Decimal("13.40495") if latitude else None,
            area_only=area,
            by=alice,
        )
        for name, latitude, area in (
            ("=Yard", "52.52001", False),
            ("'Hof 🐝", "-0.00001", True),
            ("@ +\ttab", "", False),
        )
    ]
    Yard.objects.filter(pk=yards[2].pk).update(closed_on=DAY)
    reopened = add_yard(keeper=alice, region=cast.north, name="@ +\ttab", by=alice)
    add_helper(yard=yards[0], person=cast.bob, by=alice)
    colonies = add_colonies(
        yard=yards[0],
        names=[f"{name[:20]} {at}" for at, name in enumerate(TEXTS)],
        started_on=dt.date(1900, 5, 1),
        started_known=False,
        by=alice,
    )
    _live(cast, colonies, yards, reopened, text)
    _count(cast, colonies, text)
    _treat(cast, colonies, text)
    _keep(cast, text)


def _live(cast: Cast, colonies: list[Colony], yards: list[Yard], reopened: Yard, text: Texts) -> None:
    alice = cast.alice
    describe_colony(
        colony=colonies[0],
        name="0017",
        brood_boxes=3,
        supers_on=True,
        brood=Brood.PLENTY,
        brood_seen_on=DAY,
        by=alice,
    )
    daughter = split_colony(
        colony=colonies[0], name="'daughter", to_yard=yards[1], split_on=DAY, note=text(), by=alice
    )
    unite_colonies(colony=daughter, into=colonies[1], united_on=DAY, note=text(), by=alice)
    again = split_colony(colony=colonies[2], name="never", to_yard=yards[1], split_on=DAY, by=alice)
    split = ColonyChange.objects.get(other=again)
    undo_change(change=split, why=text(), never_there=True, at=AT, by=alice)
    requeen_colony(colony=colonies[3], requeened_on=DAY, note=text(), by=alice)
    end_colony(colony=colonies[4], ended_on=DAY, why="=gone\n-for ever", by=alice)
    undo_change(change=ColonyChange.objects.get(colony=colonies[4]), why=text(), at=AT, by=alice)
    end_colony(colony=colonies[5], ended_on=DAY, why=text(), by=alice)
    move_colony(colony=colonies[6], to_yard=yards[1], moved_on=DAY, by=alice)
    move_colony(colony=colonies[6], to_yard=reopened, moved_on=DAY + dt.timedelta(days=3), by=alice)


def _count(cast: Cast, colonies: list[Colony], text: Texts) -> None:
    for at, method in enumerate((Method.ALCOHOL_WASH, Method.SOAP_WASH, Method.SUGAR_ROLL, Method.CO2)):
        for by in BeesBy:
            new = NewCount(colonies[at], method, DAY, at, bees=300, bees_by=by, brood=Brood.NONE, note=text())
            record_sample(count=new, at=AT, by=cast.bob if at % 2 else cast.alice)
    board = NewCount(
        colonies[6], Method.BOARD, dt.date(2026, 8, 13), 42, board_days=Decimal("2.5"), note=text()
    )
    record_sample(count=board, at=AT, by=cast.alice)
    part = NewCount(
        colonies[6],
        Method.BOARD,
        dt.date(2026, 8, 30),
        0,
        board_days=Decimal(3),
        cells_counted=10,
        cells_total=100,
        treatment_in_hive=True,
    )
    record_sample(count=part, at=AT, by=cast.alice)
    drone = NewCount(colonies[7], Method.DRONE_BROOD, DAY, 3, cells_counted=50, note=text())
    record_sample(count=drone, at=AT, by=cast.alice)
    first = NewCount(
        colonies[8], Method.ALCOHOL_WASH, DAY, 900, bees=300, bees_by=BeesBy.COUNTED, note=text()
    )
    wrong = record_sample(count=first, at=AT, by=cast.bob)
    right = correct_sample(
        sample=wrong,
        count=NewCount(
            colonies[8], Method.ALCOHOL_WASH, DAY, 9, bees=300, bees_by=BeesBy.COUNTED, note=text()
        ),
        why=text(),
        at=AT,
        by=cast.alice,
    )
    void_sample(sample=right, why=text(), at=AT, by=cast.alice)
    lone = NewCount(colonies[9], Method.SUGAR_ROLL, DAY, 1, bees=7, bees_by=BeesBy.NOMINAL)
    voided = void_sample(
        sample=record_sample(count=lone, at=AT, by=cast.alice), why=text(), at=AT, by=cast.bob
    )
    restore_sample(sample=voided, why=text(), at=AT, by=cast.alice)


def _treat(cast: Cast, colonies: list[Colony], text: Texts) -> None:
    alice, yard = cast.alice, colonies[0].yard
    strips = Application.objects.get(key="formic_gel_strip_us")
    doses = tuple(NewDose(one, Decimal("1.125"), why_above=text()) for one in colonies[7:10])
    told = {name: text() for name in ("product", "batch", "registration", "supplier", "note", "given_by")}
    given = record_treatment(
        new=NewTreatment(yard, strips, (NewRound(DAY, DAY, None, doses),), withdrawal_days=0, **told),
        at=AT,
        by=cast.bob,
    )
    set_out_by(round_=given.rounds.get(), out_by=DAY + dt.timedelta(days=9), at=AT, by=alice)
    take_out(round_=given.rounds.get(), out_on=DAY + dt.timedelta(days=8), at=AT, by=alice)
    skip_recount(recount=given.recount, why=text(), at=AT, by=alice)
    slip = record_treatment(
        new=NewTreatment(yard, strips, (NewRound(DAY, DAY, None, (NewDose(colonies[10], Decimal(2)),)),)),
        at=AT,
        by=alice,
    )
    cancel_treatment(treatment=slip, why=text(), at=AT, by=alice)
    device = keep_device(
        device=None,
        keeper=alice,
        facts={
            "name": "=pan",
            "grams_per_load": Decimal("2.10"),
            "watts": Decimal(150),
            "tried_on": DAY,
            "first_minutes": Decimal("3.25"),
            "following_minutes": Decimal("2.5"),
            "cool_minutes": Decimal(0),
            "batteries": 2,
            "usable_share": Decimal("0.333"),
            "peukert": Decimal("1.15"),
        },
        at=AT,
        by=alice,
    )
    put_away_device(
        device=keep_device(device=None, keeper=alice, facts={"name": "'old"}, at=AT, by=alice),
        at=AT,
        by=alice,
    )
    planned = plan_day(
        new=NewTreatment(
            yard,
            Application.objects.get(key="oxalic_vapour_us"),
            (NewRound(DAY + dt.timedelta(days=60)), NewRound(DAY + dt.timedelta(days=67))),
            note=text(),
        ),
        sheet=NewSheet(
            starts_at=dt.time(7, 5),
            hives=tuple(NewHive(colony=one, amount=Decimal("2.5"), loads=2) for one in colonies[11:14]),
            wait_minutes=Decimal("5.50"),
            sealed_minutes=Decimal(10),
            people=2,
            device=device,
            heaters=2,
        ),
        at=AT,
        by=alice,
    )
    hive = SheetHive.objects.filter(sheet__round__treatment=planned).first()
    tick = mark_hive(
        hive=hive, step=Step.STARTED, ticked_at=AT, entry_key=uuid.uuid4(), remark=text(), at=AT, by=cast.bob
    )
    undo_mark(mark=tick, at=AT, by=alice)
    mark_hive(hive=hive, step=Step.STARTED, ticked_at=AT, entry_key=uuid.uuid4(), at=AT, by=alice)
    later = record_treatment(
        new=NewTreatment(cast.alice_yard, Application.objects.get(key="oxalic_vapour_us"), (NewRound(DAY),)),
        at=AT,
        by=alice,
    )
    give_round(
        round_=later.rounds.get(),
        given_on=DAY,
        doses=[NewDose(cast.colony, Decimal(1))],
        at=AT,
        by=alice,
    )


def _keep(cast: Cast, text: Texts) -> None:
    def new(**more: object) -> NewPurchase:
        return NewPurchase(
            product=text(), bought_on=DAY, quantity=Decimal("9999999.125"), unit="'g", note=text(), **more
        )

    bought = record_purchase(keeper=cast.alice, new=new(supplier=text()), at=AT, by=cast.bob)
    correct_purchase(
        purchase=bought,
        new=new(withdrawal_days=0, expires_on=dt.date(2030, 1, 1), ingredient="oxalic_acid"),
        why=text(),
        at=AT,
        by=cast.alice,
    )
    gone = record_disposal(
        keeper=cast.alice,
        new=NewDisposal(
            product=text(), disposed_on=DAY, quantity=Decimal("0.001"), unit="kg", how=text(), place=text()
        ),
        at=AT,
        by=cast.alice,
    )
    void_disposal(disposal=gone, why=text(), at=AT, by=cast.alice)
