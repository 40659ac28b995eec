"""The treatment days of the demo: a timed heater, days planned with their sheets, medicines bought and disposed of."""

import datetime as dt
import uuid
from collections.abc import Sequence
from decimal import Decimal

from apiaries.models import Colony, Person, Yard
from treatments.actions import NewRound, NewTreatment
from treatments.constants import DEFAULTS
from treatments.day_actions import NewHive, NewSheet, keep_device, plan_day
from treatments.forms.doses import usual_for
from treatments.medicine_actions import NewDisposal, NewPurchase, record_disposal, record_purchase
from treatments.models import Application, Device, Treatment

VAPOUR = "oxalic_vapour_us"


def timed_heater(keeper: Person, on: dt.date, at: dt.datetime) -> Device:
    """A pan on a lead battery, timed on that day; invented numbers."""
    here = Device.objects.of(keeper).first()
    facts = {
        "name": "Pan on the car battery",
        "number": 2,
        "watts": Decimal(150),
        "volts": Decimal(12),
        "tried_on": on,
        "first_minutes": Decimal("10.5"),
        "following_minutes": Decimal(7),
        "cool_minutes": Decimal(2),
        "batteries": 2,
        "battery_ah": Decimal(70),
        "rated_hours": Decimal(20),
        "usable_share": Decimal("0.5"),
        "peukert": Decimal("1.2"),
    }
    return here or keep_device(device=None, keeper=keeper, facts=facts, at=at, by=keeper)


def planned_day(
    yard: Yard,
    colonies: Sequence[Colony],
    days: Sequence[dt.date],
    *,
    key: uuid.UUID,
    at: dt.datetime,
    product: str = "invented product",
) -> Treatment:
    """A vapour treatment on these days, with the sheet of the first."""
    way = Application.objects.get(key=VAPOUR)
    heater = timed_heater(yard.keeper, days[0] - dt.timedelta(days=20), at)
    return plan_day(
        new=NewTreatment(
            yard=yard,
            application=way,
            rounds=tuple(NewRound(planned_on=day) for day in days),
            product=product,
            entry_key=key,
        ),
        sheet=NewSheet(
            starts_at=dt.time(9, 30),
            hives=tuple(
                NewHive(colony=one, amount=usual_for(way, one.brood_boxes) or Decimal(1)) for one in colonies
            ),
            wait_minutes=Decimal(int(DEFAULTS.wait_before_drawing_minutes.value)),
            sealed_minutes=Decimal(int(DEFAULTS.sealed_minutes.value)),
            device=heater,
        ),
        at=at,
        by=yard.keeper,
    )


def medicines(keeper: Person, today: dt.date, at: dt.datetime) -> None:
    """Two purchases and a disposal of the keeper; one bill lacks its batch."""
    for product, batch, days, quantity, unit in (
        ("invented product", "B 2041", 200, 70, "g"),
        ("invented strips", "", 130, 40, "strips"),
    ):
        new = NewPurchase(
            product=product,
            batch=batch,
            bought_on=today - dt.timedelta(days=days),
            quantity=Decimal(quantity),
            unit=unit,
            supplier="an invented shop",
            supplier_address="1 Invented Street, North Fork",
            proof="bill in the green folder",
            withdrawal_days=0,
        )
        record_purchase(keeper=keeper, new=new, at=at, by=keeper)
    gone = NewDisposal(
        product="invented strips",
        disposed_on=today - dt.timedelta(days=40),
        quantity=Decimal(16),
        unit="strips",
        how="sealed, with hazardous waste",
        place="the county's collection point",
    )
    record_disposal(keeper=keeper, new=gone, at=at, by=keeper)
