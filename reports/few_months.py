"""Adding up and writing a few months of yards, what every save waits for: both stand in the database as functions.

Of statements so short PostgreSQL spends most of its time on planning them, and a function is planned once for each
connection (`apiaries.in_database`). What is added up says `reports.yard_sums`.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
from django.db import connection

from apiaries.in_database import InDatabase
from apiaries.second_lock import as_the_service
from counts.signals import ToWrite
from reports._binary import Rows, day_of
from reports.yard_sums import ADD_UP, BROOD_WORK, GIVEN, MONTHS, SUMS, TREATED, told, worked_out

_OF_MONTH = """
     AND s.yard_id = the_yard
     AND s.sampled_on >= the_month AND s.sampled_on < the_month + interval '1 month'"""
_ADD_UP = ADD_UP.format(touched="", between=_OF_MONTH)
_GIVEN = TREATED.format(brood_work=f"'{{{', '.join(BROOD_WORK)}}}'", of="AND t.yard_id = the_yard")
_TYPES = {"i8": "bigint", "i4": "integer", "f8": "float8"}
_DATES = ("month", "last_on")
_COLUMNS = ", ".join(
    f"{name} {'date' if name in _DATES else _TYPES[SUMS[name].str[1:]]}" for name in SUMS.names or ()
)

sums_of_month = InDatabase(
    "sums_of_month",
    "the_yard bigint, the_month date",
    f"TABLE ({_COLUMNS}, given date[])",
    f"""
#variable_conflict use_column
BEGIN
  RETURN QUERY SELECT sums.*, ARRAY(SELECT given_on FROM ({_GIVEN}) AS given)
    FROM ({_ADD_UP}) AS sums;
END
""",  # noqa: S608  (names of our own)
    one_plan=True,
)

_NAMES = ", ".join(MONTHS.names or ())
_KEY = ("yard_id", "month", "kind")
_AS_TOLD = ", ".join(f"{name} = EXCLUDED.{name}" for name in MONTHS.names or () if name not in _KEY)
put_month = InDatabase(
    "put_month",
    "the_yard bigint, the_month date, the_rows json",
    "void",
    f"""
BEGIN
  INSERT INTO reports_regionmonthmark (region_id, month, marked_at)
  SELECT region_id, the_month, now() FROM apiaries_yard WHERE id = the_yard;
  DELETE FROM reports_yardmonth WHERE yard_id = the_yard AND month = the_month
     AND NOT kind = ANY(ARRAY(SELECT one->>'kind' FROM json_array_elements(the_rows) AS one));
  INSERT INTO reports_yardmonth ({_NAMES})
  SELECT {_NAMES} FROM json_populate_recordset(NULL::reports_yardmonth, the_rows)
  ON CONFLICT ({", ".join(_KEY)}) DO UPDATE SET {_AS_TOLD};
END
""",  # noqa: S608  (names of our own)
    writes=True,
    one_plan=True,
)

_ASK = f"""
SELECT sums.* FROM unnest(%s::bigint[], %s::date[]) AS touched (yard_id, month),
       {sums_of_month.name}(touched.yard_id, touched.month) AS sums
"""  # noqa: S608  (names of our own)
_PUT = f"""
SELECT {put_month.name}(touched.yard_id, touched.month, touched.told)
  FROM unnest(%s::bigint[], %s::date[], %s::json[]) AS touched (yard_id, month, told)
"""  # noqa: S608  (names of our own)


def add_up_few(touched: Collection[tuple[int, dt.date]]) -> Rows:
    """What `yard_sums.add_up` gives for these yards and months. Sums: the program itself reads."""
    with as_the_service(), connection.cursor() as cursor:
        cursor.execute(_ASK, [[yard_id for yard_id, _ in touched], [month for _, month in touched]])
        found = cursor.fetchall()
    sums = np.array([tuple(map(_number, row[:-1])) for row in found], SUMS)
    given = {(row[0], day_of(day)) for row in found for day in row[-1]}
    return worked_out(sums, np.array(list(given), GIVEN))


def _number(value: Any) -> Any:
    return day_of(value) if isinstance(value, dt.date) else value


def few_to_write(keys: Sequence[tuple[int, dt.date]], rows: Rows) -> ToWrite:
    """What makes these the rows of a few yards and months, and marks their regions."""
    of_key: dict[tuple[int, dt.date], list[dict[str, Any]]] = {key: [] for key in keys}
    for one in told(rows):
        of_key[one["yard_id"], one["month"]].append(one)
    asked = [
        [yard_id for yard_id, _ in keys],
        [month for _, month in keys],
        [json.dumps(own, default=dt.date.isoformat) for own in of_key.values()],
    ]
    return ToWrite(_PUT, asked)
