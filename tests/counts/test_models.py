"""Every rule that the database holds for counts, broken once by a raw save."""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from counts.models import EstimateBasis, ImportBatch, ImportRow, KnownHeading, MiteSample, SampleRestored
from tests.cast import Cast
from tests.counts.counting import AT, DAY, kept

WASH = {"method": "alcohol_wash", "mites": 9, "bees": 300, "bees_by": "volume"}
BOARD = {"method": "board", "mites": 23, "board_days": Decimal(3)}
DRONE = {"method": "drone_brood", "mites": 7, "cells_counted": 60}

BROKEN = [
    ("counts_sample_method_known", WASH | {"method": "guess"}),
    ("counts_sample_jar_has_bees", WASH | {"bees": None}),
    ("counts_sample_jar_has_bees", WASH | {"bees": 0, "mites": 0}),
    ("counts_sample_jar_has_bees", WASH | {"bees_by": ""}),
    ("counts_sample_jar_has_bees", WASH | {"board_days": Decimal(3)}),
    ("counts_sample_mites_possible", WASH | {"mites": 901}),
    ("counts_sample_board_has_days", BOARD | {"board_days": Decimal(0)}),
    ("counts_sample_board_has_days", BOARD | {"bees": 300}),
    ("counts_sample_drone_brood_has_cells", DRONE | {"cells_counted": None}),
    ("counts_sample_drone_brood_has_cells", DRONE | {"mites": 61}),
    ("counts_sample_cells_part_of_board", BOARD | {"cells_counted": 31, "cells_total": 30}),
    ("counts_sample_cells_pair", BOARD | {"cells_counted": 30}),
    ("counts_sample_brood_known", WASH | {"brood": "odd"}),
    ("counts_sample_not_in_the_future", WASH | {"sampled_on": dt.date(2026, 8, 16)}),
    ("counts_sample_voided_whole", WASH | {"voided_at": AT}),
    ("counts_sample_estimate_whole", WASH | {"rate": 0.03}),
]


def _raw(cast: Cast, **facts: Any) -> MiteSample:
    where = {"colony": cast.colony, "yard": cast.alice_yard, "recorded_by": cast.alice}
    when = {"sampled_on": DAY, "recorded_at": AT}
    return MiteSample.objects.create(**(where | when | facts))


def _batch(cast: Cast, **facts: Any) -> ImportBatch:
    known = {"club": cast.club, "by": cast.alice, "at": AT}
    return ImportBatch.objects.create(file_name="counts.csv", size=1, sha256="0", **known, **facts)


def _rows(cast: Cast, *numbers: int) -> None:
    batch = _batch(cast)
    for number in numbers:
        ImportRow.objects.create(batch=batch, number=number, status="ready", cells=["Home yard"])


def _heading(cast: Cast, heading: str) -> None:
    KnownHeading.objects.create(club=cast.club, heading=heading, said_at=AT, said_by=cast.alice)


def _restored(cast: Cast, why: str) -> None:
    voided = {"voided_at": AT, "voided_by": cast.alice, "voided_why": "twice"}
    restored = {"restored_at": AT, "restored_by": cast.alice, "restored_why": why}
    SampleRestored.objects.create(sample=_raw(cast, **WASH), **voided, **restored)


BROUGHT_OR_RESTORED: dict[str, Callable[[Cast], object]] = {
    "counts_importbatch_state_known": lambda cast: _batch(cast, state="odd"),
    "counts_importbatch_brought_whole": lambda cast: _batch(cast, state="in", brought=9),
    "counts_importbatch_undone_whole": lambda cast: _batch(
        cast, state="undone", brought_at=AT, undone_at=AT, undone_by=cast.alice
    ),
    "counts_importrow_once": lambda cast: _rows(cast, 2, 3, 2),
    "counts_knownheading_once": lambda cast: [_heading(cast, "mites") for _ in range(2)],
    "counts_samplerestored_says_why": lambda cast: _restored(cast, ""),
}


@pytest.mark.parametrize("facts", [WASH, BOARD, DRONE], ids=["wash", "board", "drone brood"])
def test_a_whole_count_may_be_saved(cast: Cast, facts: dict[str, Any]) -> None:
    assert _raw(cast, **facts).pk


@pytest.mark.parametrize(
    ("rule", "facts"), BROKEN, ids=[f"{rule} {at}" for at, (rule, _) in enumerate(BROKEN)]
)
def test_database_refuses(cast: Cast, rule: str, facts: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        _raw(cast, **facts)


@pytest.mark.parametrize("rule", BROUGHT_OR_RESTORED)
def test_database_holds_what_is_brought_in_and_restored(cast: Cast, rule: str) -> None:
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        BROUGHT_OR_RESTORED[rule](cast)


def test_database_refuses_negative_mites(cast: Cast) -> None:
    with pytest.raises(IntegrityError, match="mites"), transaction.atomic():
        _raw(cast, **WASH | {"mites": -1})


def test_database_refuses_the_same_entry_key_twice(cast: Cast) -> None:
    first = _raw(cast, **WASH)

    with pytest.raises(IntegrityError, match="entry_key"), transaction.atomic():
        _raw(cast, **WASH, entry_key=first.entry_key)


def test_database_refuses_two_corrections_of_one_count(cast: Cast) -> None:
    first = _raw(cast, **WASH)
    _raw(cast, **WASH, corrects=first)

    with pytest.raises(IntegrityError, match="corrects"), transaction.atomic():
        _raw(cast, **WASH, corrects=first)


def test_constants_are_kept_once(cast: Cast) -> None:
    kept(cast.colonies[0], cast.alice)
    kept(cast.colonies[1], cast.alice)

    assert EstimateBasis.objects.count() == 1


def test_day_east_of_greenwich_may_be_a_day_ahead(cast: Cast) -> None:
    assert _raw(cast, **WASH | {"sampled_on": dt.date(2026, 8, 15)}).pk
