"""A medicine record as a file for spreadsheets: one row for each dose, purchase and disposal."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from apiaries.language import mark, say
from apiaries.sheet_out import csv_file
from treatments.medicine import Item
from treatments.models import Dose, MedicinePurchase
from treatments.record_facts import voided_words
from treatments.record_lines import KeptLine, MedicineRecord, RoundLine, UseLine

MISSING = mark("MISSING")
COLUMNS = (
    *("entry", "yard", "colony", "date", "out_on", "first_on", "last_on", "days", "ingredient", "how_given"),
    *(
        "product",
        "batch",
        "registration",
        "quantity",
        "unit",
        "total",
        "supplier",
        "supplier_address",
        "proof",
    ),
    *(
        "vet",
        "withdrawal_days",
        "clear_date",
        "use_by",
        "how",
        "where",
        "given_by",
        "recorded_by",
        "recorded_on",
    ),
    *("missing", "changes", "struck_through", "keep", "note"),
)


def record_csv(record: MedicineRecord) -> bytes:
    """The file. What is asked for and missing says so; a withdrawal period of 0 is a 0."""
    lines: tuple[UseLine | KeptLine, ...] = (*record.uses, *record.purchases, *record.disposals)
    rows = (row for line in lines for row in entry_rows(line))
    return csv_file(COLUMNS, ([row.get(name, "") for name in COLUMNS] for row in rows))


def entry_rows(line: UseLine | KeptLine) -> Iterator[dict[str, str]]:
    """The rows of one entry by their columns: one for each dose, or the one of a purchase or disposal."""
    if isinstance(line, KeptLine):
        yield _kept_row(line)
        return
    shared = _of_use(line)
    for one in line.rounds:
        for dose in one.doses:
            yield shared | _of_dose(one, dose)


def _iso(day: date | None) -> str:
    return day.isoformat() if day else ""


def _number(amount: Decimal) -> str:
    """Without trailing zeros and in no reader's marks: programs take it as a number."""
    return f"{amount.normalize():f}"


def _told(text: str | int | None, item: Item, missing: tuple[Item, ...]) -> str:
    return say(MISSING) if item in missing else "" if text is None else str(text)


def _of_dose(one: RoundLine, dose: Dose) -> dict[str, str]:
    return {
        "colony": dose.colony.name,
        "date": _iso(one.given_on),
        "out_on": _iso(one.out_on),
        "quantity": _number(dose.amount),
        "unit": dose.unit_words,
    }


def _of_use(line: UseLine) -> dict[str, str]:
    treatment, missing = line.treatment, line.missing
    return {
        "entry": "use",
        "yard": treatment.yard.name,
        "first_on": _iso(line.first_on),
        "last_on": _iso(line.last_on),
        "days": str(line.days or ""),
        "ingredient": line.ingredient,
        "how_given": treatment.application.name,
        "product": _told(treatment.product, Item.PRODUCT, missing),
        "batch": _told(treatment.batch, Item.BATCH, missing),
        "registration": treatment.registration,
        "total": line.total,
        "supplier": _told(line.supplier, Item.SUPPLIER, missing),
        "supplier_address": _told(line.supplier_address, Item.SUPPLIER_ADDRESS, missing),
        "proof": _told(line.proof, Item.PROOF, missing),
        "vet": treatment.vet,
        "withdrawal_days": _told(treatment.withdrawal_days, Item.WITHDRAWAL_DAYS, missing),
        "clear_date": _iso(line.clear_on),
        "given_by": line.given_by,
        "recorded_by": treatment.recorded_by.name,
        "recorded_on": _iso(treatment.yard.local_date(treatment.recorded_at)),
        "missing": line.missing_words,
        "changes": "; ".join(_change(one.field, one.old, one.new, one.by, one.why) for one in line.changes),
        "struck_through": voided_words(line),
        "keep": line.kept_words,
        "note": treatment.note,
    }


def _change(field: str, old: str, new: str, by: str, why: str) -> str:
    nothing = say("nothing")
    who = f"{by}: {why}" if why else by
    return say(
        "{field}: {old} became {new} ({who})", field=field, old=old or nothing, new=new or nothing, who=who
    )


def _kept_row(line: KeptLine) -> dict[str, str]:
    entry = line.entry
    row = {
        "product": entry.product,
        "batch": _told(entry.batch, Item.BATCH, line.missing),
        "quantity": _number(entry.quantity),
        "unit": entry.unit,
        "recorded_by": entry.recorded_by.name,
        "recorded_on": _iso(line.recorded_on),
        "missing": line.missing_words,
        "struck_through": voided_words(line),
        "note": entry.note,
    }
    if not isinstance(entry, MedicinePurchase):
        how, place = (_told(getattr(entry, one), one, line.missing) for one in (Item.HOW, Item.PLACE))
        return row | {"entry": "disposal", "date": _iso(entry.disposed_on), "how": how, "where": place}
    return row | {
        "entry": "purchase",
        "date": _iso(entry.bought_on),
        "ingredient": line.ingredient,
        "supplier": _told(entry.supplier, Item.SUPPLIER, line.missing),
        "supplier_address": _told(entry.supplier_address, Item.SUPPLIER_ADDRESS, line.missing),
        "proof": _told(entry.proof, Item.PROOF, line.missing),
        "withdrawal_days": _told(entry.withdrawal_days, Item.WITHDRAWAL_DAYS, line.missing),
        "use_by": _iso(entry.expires_on),
    }
