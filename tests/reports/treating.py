"""Treatments that owe a recount, for the tests of the mails, kept through the real action."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from apiaries.models import Colony
from treatments.actions import NewDose, NewRound, NewTreatment, record_treatment
from treatments.models import Application, Recount

BERLIN = "Europe/Berlin"
GIVEN = dt.date(2026, 8, 6)  # oxalic acid by vapour: recount from 20 Aug (ideal at once) to 3 Sep
SAVED = dt.datetime(2026, 8, 8, 18, 0, tzinfo=dt.UTC)


def at(text: str, hour: int = 7, minute: int = 0) -> dt.datetime:
    """A moment in UTC, such as at("08-20", 5): 07:00 in Berlin in summer."""
    return dt.datetime.fromisoformat(f"2026-{text}T{hour:02}:{minute:02}:00+00:00")


def treated(
    colonies: Sequence[Colony],
    *,
    on: dt.date = GIVEN,
    out_on: dt.date | None = None,
    saved: dt.datetime = SAVED,
    way: str = "oxalic_vapour_us",
) -> Recount:
    """The recount owed after one round given to these colonies, and taken out again if it stays in."""
    yard = colonies[0].yard
    doses = tuple(NewDose(colony, Decimal(2)) for colony in colonies)
    new = NewTreatment(
        yard=yard,
        application=Application.objects.get(key=way),
        rounds=(NewRound(planned_on=on, given_on=on, out_on=out_on, doses=doses),),
        withdrawal_days=0,
    )
    return record_treatment(new=new, at=saved, by=yard.keeper).recount
