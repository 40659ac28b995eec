"""Counts added up by yard, month and kind, for one yard or for all of a country, in the same two queries.

PostgreSQL adds up, numpy does the sums that need a formula, so that every formula stands once, in `counts`.
What is left out: drone brood, voided counts, and counts that allow no estimate: too few bees, a board that lay too
short, and every board with a treatment in the hive, because mites that fall from a treatment are no natural drop.
The number of a yard's colonies is taken as not known, so that few counted colonies widen the range they ought to.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from counts.estimate import ColonySums, chance_spread
from counts.samples import Kind, Method, kind_of
from reports._binary import Question, Rows, date_of, read_rows, read_together, write_rows
from reports.models import BroodSeen
from treatments.ingredients import Ingredient, is_biotechnical

KINDS = (Kind.WASH, Kind.ROLL, Kind.BOARD)
"""Kinds that have region figures; a row says which by its place here."""

BROOD = (BroodSeen.MIXED, BroodSeen.WITH, BroodSeen.WITHOUT)
NEVER = -1
"""`treated_days` of a yard for which no treatment of the last year is noted."""

YEAR = 366
DAY_BITS = 20  # more than a day's number takes
DAYS = 1 << 19  # moves it above 0: counts and treatments go back before 2000

MONTHS = np.dtype(
    [
        ("yard_id", "i8"),
        ("region_id", "i8"),
        ("keeper_id", "i8"),
        ("month", "i4"),
        ("kind", "i4"),
        ("brood", "i4"),
        ("treated_days", "i4"),
        ("samples", "i4"),
        ("colonies", "i4"),
        ("zeros", "i4"),
        ("mites", "i8"),
        ("bees", "i8"),
        ("exposure", "f8"),
        ("squared_cv", "f8"),
    ]
)
"""The rows of `YardMonth`; months are days since 2000."""

SUMS = np.dtype(
    [
        *((name, MONTHS[name]) for name in ("yard_id", "region_id", "keeper_id", "month", "kind", "brood")),
        ("last_on", "i4"),
        *((name, MONTHS[name]) for name in ("samples", "colonies", "zeros", "mites", "bees", "exposure")),
        ("exposure_squared", "f8"),
        ("mites_squared", "f8"),
        ("mites_squared_per_exposure", "f8"),
        ("spread", "f8"),
    ]
)
GIVEN = np.dtype([("yard_id", "i8"), ("given_on", "i4")])


def _cases(found: dict[str, int]) -> str:
    return " ".join(f"WHEN '{name}' THEN {number}" for name, number in found.items())


_KIND = _cases({m.value: KINDS.index(kind_of(m)) for m in Method if kind_of(m) in KINDS})

ADD_UP = f"""
WITH of_colony AS (
  SELECT s.yard_id, date_trunc('month', s.sampled_on::timestamp)::date AS month,
         CASE s.method {_KIND} END AS kind, s.colony_id,
         max(s.sampled_on) AS last_on, count(*) AS samples, count(*) FILTER (WHERE s.mites = 0) AS zeros,
         sum(s.mites)::float8 AS mites, sum(s.bees) AS bees, sum(s.exposure) AS exposure,
         sum(s.exposure * s.exposure * s.squared_cv) AS spread,
         bool_or(s.brood IN ('some', 'plenty')) AS brood, bool_or(s.brood = 'none') AS no_brood
    FROM counts_mitesample s{{touched}}
   WHERE s.voided_at IS NULL AND s.exposure > 0 AND s.refusal = ''{{between}}
   GROUP BY 1, 2, 3, 4
), of_yard AS (
  SELECT yard_id, month, kind, bool_or(brood) AS brood, bool_or(no_brood) AS no_brood, max(last_on) AS last_on,
         sum(samples) AS samples, count(*) AS colonies, sum(zeros) AS zeros, sum(mites) AS mites, sum(bees) AS bees,
         sum(exposure) AS exposure, sum(exposure * exposure) AS exposure_squared, sum(mites * mites) AS mites_squared,
         sum(mites * mites / exposure) AS mites_squared_per_exposure, sum(spread) AS spread
    FROM of_colony
   GROUP BY 1, 2, 3
)
SELECT m.yard_id, y.region_id, y.keeper_id, m.month, m.kind,
       CASE WHEN m.brood = m.no_brood THEN 0 WHEN m.brood THEN 1 ELSE 2 END,
       m.last_on, m.samples::int, m.colonies::int, m.zeros::int, m.mites::bigint, COALESCE(m.bees, 0)::bigint,
       m.exposure, m.exposure_squared, m.mites_squared, m.mites_squared_per_exposure, m.spread
  FROM of_yard m JOIN apiaries_yard y ON y.id = m.yard_id
"""  # noqa: S608  (names of our own)

_OF_SOME = """
    JOIN unnest(%s::bigint[], %s::date[]) AS touched (yard_id, month)
      ON s.yard_id = touched.yard_id
     AND s.sampled_on >= touched.month AND s.sampled_on < touched.month + interval '1 month'"""

_BETWEEN = " AND s.yard_id BETWEEN %s AND %s"
_TREATED_SOME, _TREATED_BETWEEN = "AND t.yard_id = ANY(%s)", "AND t.yard_id BETWEEN %s AND %s"
BROOD_WORK = [ingredient.value for ingredient in Ingredient if is_biotechnical(ingredient)]

# Not in order, and a day of several treatments as often: numpy sorts numbers, where the planner would take its time.
TREATED = """
SELECT t.yard_id, r.given_on
  FROM treatments_treatment t
  JOIN treatments_round r ON r.treatment_id = t.id
 WHERE r.given_on IS NOT NULL AND t.cancelled_at IS NULL
   AND NOT t.application_id = ANY(ARRAY(
         SELECT id FROM treatments_application WHERE ingredient = ANY({brood_work})))
   {of}
"""

_STORED = f"""
SELECT yard_id, region_id, keeper_id, month, CASE kind {_cases({k.value: i for i, k in enumerate(KINDS)})} END,
       CASE brood {_cases({b.value: i for i, b in enumerate(BROOD)})} END, COALESCE(treated_days, {NEVER}),
       samples, colonies, zeros, mites, COALESCE(bees, 0), exposure, squared_cv
  FROM reports_yardmonth
"""  # noqa: S608


def add_up(touched: Collection[tuple[int, dt.date]]) -> Rows:
    """The rows of `MONTHS` that the counts of these yards and months ask for, in the order of their keys."""
    yards, months = [yard_id for yard_id, _ in touched], [month for _, month in touched]
    counts = Question(ADD_UP.format(touched=_OF_SOME, between=""), [yards, months], SUMS)
    return worked_out(*read_together(counts, _treated(_TREATED_SOME, [yards])))


def add_up_between(first: int, last: int) -> Rows:
    """The same of all months of the yards with keys from the first to the last."""
    counts = Question(ADD_UP.format(touched="", between=_BETWEEN), [first, last], SUMS)
    return worked_out(*read_together(counts, _treated(_TREATED_BETWEEN, [first, last])))


def _treated(of: str, parameters: list[object]) -> Question:
    """When these yards were treated; work on the brood alone is no treatment."""
    return Question(TREATED.format(brood_work="%s", of=of), [BROOD_WORK, *parameters], GIVEN)


def worked_out(sums: Rows, given: Rows) -> Rows:
    """The rows of `MONTHS` that follow from sums, and from what was given in their yards on which days."""
    rows = np.empty(len(sums), MONTHS)
    for name in set(MONTHS.names or ()) & set(SUMS.names or ()):
        rows[name] = sums[name]
    rows["squared_cv"] = _spread(sums)
    rows["treated_days"] = _treated_days(sums, given)
    return rows[np.lexsort((rows["kind"], rows["month"], rows["yard_id"]))]


def stored(where: str = "", parameters: Collection[object] = ()) -> Rows:
    """The rows of `YardMonth` as they are, of `MONTHS`, in the order of their keys."""
    rows = read_rows(f"{_STORED} {where}", list(parameters), MONTHS)
    return rows[np.lexsort((rows["kind"], rows["month"], rows["yard_id"]))]


def write(rows: Rows) -> None:
    """Add these rows of `MONTHS` to `YardMonth`."""
    if len(rows):
        write_rows("reports_yardmonth", MONTHS.names or (), list(_alike(rows)))


def told(rows: Rows) -> list[dict[str, Any]]:
    """These rows of `MONTHS` as what stands in `YardMonth`, a few of them, by column."""
    names = MONTHS.names or ()
    found = [dict(zip(names, row, strict=True)) for row in rows.tolist()]
    for one in found:
        kind = KINDS[one["kind"]]
        one |= {
            "month": date_of(one["month"]),
            "kind": kind.value,
            "brood": BROOD[one["brood"]].value,
        }
        if one["treated_days"] == NEVER:
            one["treated_days"] = None
        if kind is Kind.BOARD:
            one["bees"] = None
    return found


def _alike(rows: Rows) -> Iterator[tuple[Rows, dict[str, str | None]]]:
    """The rows in groups that share what is text or may be NULL."""
    never = rows["treated_days"] == NEVER
    codes = (rows["kind"] * len(BROOD) + rows["brood"]) * 2 + never
    for code in np.unique(codes):
        own = codes == code
        kind, brood = divmod(code // 2, len(BROOD))
        same: dict[str, str | None] = {"kind": KINDS[kind].value, "brood": BROOD[brood].value}
        if code % 2:
            same["treated_days"] = None
        if KINDS[kind] is Kind.BOARD:
            same["bees"] = None
        yield rows[own], same


def _treated_days(sums: Rows, given: Rows) -> npt.NDArray[np.int64]:
    """Days from the yard's last treatment to the last count of the month."""
    # One number for yard and day, so that one search finds the last treatment on or before a day.
    days = np.unique((given["yard_id"] << DAY_BITS) + given["given_on"] + DAYS)
    counted = (sums["yard_id"] << DAY_BITS) + sums["last_on"] + DAYS
    place = np.searchsorted(days, counted, side="right") - 1
    if not len(days):
        return np.full(len(sums), NEVER)
    last = days[np.maximum(place, 0)]
    ago = counted - last
    same_yard = (place >= 0) & (last >> DAY_BITS == sums["yard_id"])
    return np.where(same_yard & (ago <= YEAR), ago, NEVER)


def _spread(sums: Rows) -> npt.NDArray[np.float64]:
    of_colonies = ColonySums(
        sums["colonies"].astype(np.float64),
        sums["mites"].astype(np.float64),
        sums["exposure"],
        sums["mites_squared"],
        sums["exposure_squared"],
        sums["mites_squared_per_exposure"],
    )
    return chance_spread(of_colonies, sums["spread"] / sums["exposure_squared"])
