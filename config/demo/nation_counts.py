"""Counts and treatments of the invented country, written by COPY: ten million in minutes.

Their history is not written (it would be as large again), and treatments have no doses, so that no count answers for
a recount: of those before the last year the keepers said why there was none, as who is asked for each every day would.
Everything else is as the actions would have kept it, the estimates too.
"""

import datetime as dt
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
from django.db import connection

from config.demo.nation import Country, Ints
from counts.adding import basis_for
from counts.constants import DEFAULTS
from counts.estimate import estimate_board, estimate_jar
from counts.samples import BeesBy, BoardSample, JarSample, Method
from reports._binary import Rows, Value, day_of, write_rows
from treatments.models import Application
from treatments.recount_rules import RecountRule

VISITS_AT_ONCE = 100_000
FIRST_YEAR, YEARS = 2018, 8
MONTHS = np.asarray([0, 0, 2, 5, 7, 8, 10, 14, 11, 7, 2, 0], dtype=float)  # how many visits in a month
SEASON = np.asarray([5, 5, 4, 5, 7, 10, 16, 26, 30, 24, 14, 8]) / 1000  # mites per bee
BROOD = ("unknown", "some", "none")
METHODS = (Method.ALCOHOL_WASH, Method.SOAP_WASH, Method.SUGAR_ROLL, Method.BOARD)
METHOD_SHARES = (0.5, 0.2, 0.2, 0.1)
BOARD_DAYS = 3
BOARD_DROP = 600.0  # mites a day of a whole colony for each mite per bee
MINUTE = 60 * 1_000_000  # as PostgreSQL keeps moments, in millionths of a second
# One digit before the point, none after of one shown: how PostgreSQL sends the numeric 3.0.
THREE_DAYS = b"".join(part.to_bytes(2, "big") for part in (1, 0, 0, 1, BOARD_DAYS))

SAMPLE = np.dtype(
    [
        *((name, "i8") for name in ("colony_id", "yard_id", "recorded_by_id", "basis_id", "recorded_at")),
        *((name, "i4") for name in ("sampled_on", "mites", "bees")),
        *((name, "f8") for name in ("rate", "low", "high", "exposure", "squared_cv")),
        ("treatment_in_hive", "i1"),
        ("entry_key", "S16"),
    ]
)
COLUMNS = (
    *(SAMPLE.names or ()),
    *("method", "bees_by", "board_days", "cells_counted", "cells_total", "brood", "note", "refusal"),
    *("voided_at", "voided_by_id", "voided_why", "corrects_id"),
)
TREATMENT = np.dtype(
    [
        *((name, "i8") for name in ("id", "yard_id", "application_id", "recorded_by_id", "recorded_at")),
        ("entry_key", "S16"),
    ]
)
TYPED = (
    "product",
    "batch",
    "registration",
    "supplier",
    "supplier_address",
    "proof",
    "vet",
    "given_by",
    "note",
)
RECOUNT = np.dtype(
    [
        *((name, "i8") for name in ("treatment_id", "skipped_at", "skipped_by_id")),
        *((name, "i4") for name in ("earliest_on", "ideal_on", "latest_on")),
    ]
)
SKIPPED_AFTER = 30
"""Days from the last one of a recount to the one on which its keeper says why there was none."""
ROUND = np.dtype([("treatment_id", "i8"), ("number", "i2"), ("planned_on", "i4"), ("given_on", "i4")])


def write_counts(country: Country, samples: int, random: np.random.Generator) -> int:
    """About so many counts, in visits that count every colony of a yard, in the order of their days; how many."""
    visits = _visits(country, samples, random)
    yard_rate = np.exp(random.normal(0, 0.8, len(country.yards)))
    region_rate = dict(
        zip(np.unique(country.regions).tolist(), np.exp(random.normal(0, 0.3, 999)), strict=False)
    )
    level = yard_rate * np.asarray([region_rate[region] for region in country.regions.tolist()])
    year_rate = np.exp(random.normal(0, 0.3, YEARS))
    basis = basis_for(DEFAULTS).pk
    written = 0
    for start in range(0, len(visits), VISITS_AT_ONCE):
        rows, method, brood = _samples(
            country, visits[start : start + VISITS_AT_ONCE], level, year_rate, random
        )
        rows["basis_id"] = basis
        rows["entry_key"] = _keys(b"c", written, len(rows))
        _estimate(rows, method)
        write_rows("counts_mitesample", COLUMNS, list(_in_groups(rows, method, brood)))
        written += len(rows)
    return written


def write_treatments(country: Country, random: np.random.Generator) -> int:
    """One or two a year in most yards, in August and December, each with the recount it owes; how many."""
    application = Application.objects.get(key="oxalic_vapour_us")
    days = np.concatenate(
        [
            _first_of(year, month) + np.arange(30)
            for year in range(FIRST_YEAR, FIRST_YEAR + YEARS)
            for month in (8, 12)
        ]
    )
    days = days.reshape(-1, 30)
    yard, season = np.nonzero(random.random((len(country.yards), len(days))) < 0.7)
    rows = np.zeros(len(yard), TREATMENT)
    rows["id"] = np.arange(1, len(yard) + 1)
    rows["yard_id"], rows["recorded_by_id"] = country.yards[yard], country.keepers[yard]
    rows["application_id"] = application.pk
    given = days[season, random.integers(0, 30, len(yard))]
    rows["recorded_at"] = given.astype(np.int64) * 24 * 60 * MINUTE + 18 * 60 * MINUTE
    rows["entry_key"] = _keys(b"t", 0, len(rows))
    none: dict[str, Value] = dict.fromkeys(("withdrawal_days", "cancelled_at", "cancelled_by_id"))
    same = none | dict.fromkeys((*TYPED, "cancelled_why"), "")
    write_rows("treatments_treatment", (*(TREATMENT.names or ()), *same), [(rows, same)])
    rounds = np.zeros(len(yard), ROUND)
    rounds["treatment_id"], rounds["number"] = rows["id"], 1
    rounds["planned_on"] = rounds["given_on"] = given
    out: dict[str, Value] = dict.fromkeys(("out_on", "out_by"))
    write_rows("treatments_round", (*(ROUND.names or ()), *out), [(rounds, out)])
    _write_recounts(rows, given, application.recount_rule)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT setval(pg_get_serial_sequence('treatments_treatment', 'id'), %s)", [len(rows) + 1]
        )
    return len(rows)


def _write_recounts(treatments: Rows, given: Ints, rule: RecountRule) -> None:
    """What each treatment owes after its only round: no page of a yard can be shown without it."""
    rows = np.zeros(len(treatments), RECOUNT)
    rows["treatment_id"], rows["skipped_by_id"] = treatments["id"], treatments["recorded_by_id"]
    rows["earliest_on"], rows["ideal_on"] = given + rule.earliest_days, given + rule.ideal_days
    rows["latest_on"] = given + rule.latest_days
    days = rows["latest_on"].astype(np.int64) + SKIPPED_AFTER
    rows["skipped_at"] = days * 24 * 60 * MINUTE + 18 * 60 * MINUTE
    same: dict[str, Value] = {"kind": rule.kind, "reason": rule.reason, "source": rule.source}
    past = given < _first_of(FIRST_YEAR + YEARS - 1, 1)
    unsaid: dict[str, Value] = dict.fromkeys(("skipped_at", "skipped_by_id"))
    groups: list[tuple[Rows, dict[str, Value]]] = [
        (rows[past], same | {"skipped_why": "nobody counted in time"}),
        (rows[~past], same | unsaid | {"skipped_why": ""}),
    ]
    columns = (*(RECOUNT.names or ()), *same, "skipped_why")
    write_rows("treatments_recount", columns, [group for group in groups if len(group[0])])


def _visits(country: Country, samples: int, random: np.random.Generator) -> Rows:
    """Which yard was visited on which day, in the order of days."""
    number = round(samples / (len(country.colonies) / len(country.yards)))
    visits = np.empty(number, [("day", "i4"), ("month", "i4"), ("year", "i4"), ("yard", "i8")])
    visits["yard"] = random.integers(0, len(country.yards), number)
    visits["month"] = random.choice(12, number, p=MONTHS / MONTHS.sum())
    visits["year"] = random.integers(0, YEARS, number)
    begins = np.asarray(
        [[_first_of(FIRST_YEAR + year, month) for month in range(1, 13)] for year in range(YEARS)]
    )
    visits["day"] = begins[visits["year"], visits["month"]] + random.integers(0, 28, number)
    visits.sort(order=["day", "yard"])
    return visits


def _samples(
    country: Country,
    visits: Rows,
    level: npt.NDArray[np.float64],
    year_rate: npt.NDArray[np.float64],
    random: np.random.Generator,
) -> tuple[Rows, Ints, Ints]:
    """A count of every colony of the visited yards, with the places of its method and of what was seen of brood."""
    ends = np.append(country.first[1:], len(country.colonies))
    numbers = (ends - country.first)[visits["yard"]]
    visit = np.repeat(np.arange(len(visits)), numbers)
    within = np.arange(len(visit)) - np.repeat(np.cumsum(numbers) - numbers, numbers)
    yard = visits["yard"][visit]
    # A keeper stays with one method; what was seen of brood is the visit's.
    method = np.random.default_rng(1).choice(len(METHODS), len(country.yards), p=METHOD_SHARES)[yard]
    brood = np.where(visits["month"] < 10, 1, 2)[visit] * (random.random(len(visits)) < 0.7)[visit]
    rate = (level[visits["yard"]] * SEASON[visits["month"]] * year_rate[visits["year"]])[visit]
    rate *= random.gamma(1.2, 1 / 1.2, len(visit))
    rows = np.zeros(len(visit), SAMPLE)
    rows["colony_id"] = country.colonies[country.first[yard] + within]
    rows["yard_id"], rows["recorded_by_id"] = country.yards[yard], country.keepers[yard]
    rows["sampled_on"] = visits["day"][visit]
    rows["recorded_at"] = rows["sampled_on"].astype(np.int64) * 24 * 60 * MINUTE + 18 * 60 * MINUTE
    is_board = method == METHODS.index(Method.BOARD)
    rows["bees"] = np.where(is_board, 0, random.choice([200, 300, 300, 300, 400], len(visit)))
    most = np.where(is_board, 5000, rows["bees"])
    rows["mites"] = np.minimum(
        random.poisson(np.where(is_board, BOARD_DAYS * BOARD_DROP, rows["bees"]) * rate), most
    )
    return rows, method, brood


def _estimate(rows: Rows, method: Ints) -> None:
    """The product's own estimate of every count, worked out once for counts that are alike."""
    alike, place = np.unique(np.stack([method, rows["mites"], rows["bees"]]), axis=1, return_inverse=True)
    said = np.asarray([_said(*one) for one in alike.T.tolist()])
    for number, name in enumerate(("rate", "low", "high", "exposure", "squared_cv")):
        rows[name] = said[place.ravel(), number]


def _said(method: int, mites: int, bees: int) -> tuple[float | None, ...]:
    if METHODS[method] is Method.BOARD:
        one = estimate_board(BoardSample(mites, float(BOARD_DAYS), 1.0))
    else:
        one = estimate_jar(JarSample(mites, bees, BeesBy.VOLUME, METHODS[method]))
    return one.rate, one.low, one.high, one.exposure, one.c2


def _in_groups(rows: Rows, method: Ints, brood: Ints) -> Iterator[tuple[Rows, dict[str, Value]]]:
    """The rows with what is the same in all of a group."""
    null = ("cells_counted", "cells_total", "voided_at", "voided_by_id", "corrects_id")
    for number, name in enumerate(METHODS):
        for place, seen in enumerate(BROOD):
            own = rows[(method == number) & (brood == place)]
            same: dict[str, Value] = dict.fromkeys(null) | dict.fromkeys(
                ("note", "refusal", "voided_why"), ""
            )
            same |= {"method": name.value, "brood": seen}
            if name is Method.BOARD:
                same |= {"bees": None, "bees_by": "", "board_days": THREE_DAYS}
            else:
                same |= {"bees_by": BeesBy.VOLUME.value, "board_days": None}
            if len(own):
                yield own, same


def _keys(kind: bytes, first: int, number: int) -> npt.NDArray[np.bytes_]:
    """Entry keys in rising order: random ones would spread over the whole of their index."""
    keys = np.zeros(number, [("kind", "S8"), ("number", ">i8")])
    keys["kind"], keys["number"] = kind.ljust(8, b"-"), np.arange(first + 1, first + number + 1)
    return keys.view("S16")


def _first_of(year: int, month: int) -> int:
    return day_of(dt.date(year, month, 1))
