"""The page of a round's sheet: the sheet worked out, what to bring, what to seal, what is due after."""

from typing import Any

from apiaries.models import Person, Yard
from treatments.battery import NoCharge
from treatments.day_plan import NoPlan
from treatments.day_sheet import Sheet, sheet_of, span_words
from treatments.expect import expected_of
from treatments.models import Application, DaySheet, Round, SheetMark
from treatments.possible import Stand, YardToday, possible
from treatments.possible_page import limits_for, yard_on
from treatments.possible_words import SUBJECT_WORDS, check_words
from treatments.ways import cautions_for

SEALING = (
    "entrance",
    "vents and lid holes",
    "the floor, with its board in",
    "gaps between boxes and feed holes",
)
"""What to seal before vapour (common practice, no source)."""
KIT_VAPOUR = (
    "half mask with filters for particles and acid gas, filters in date",
    "tight goggles",
    "acid-proof gloves",
    "water for eyes and skin",
    "scale that shows a tenth of a gram",
    "foam or cloth for sealing",
    "fire blanket and water",
    "this sheet and a pen",
)
"""What to bring for vapour: respirator, goggles, gloves as ICSC 0707; the rest common practice, no source."""
KIT_OTHER = ("gloves as the label says", "goggles", "water for eyes and skin", "this sheet and a pen")

NO_PLAN_WORDS = {
    NoPlan.NO_HIVES: "No hive is on the sheet.",
    NoPlan.NO_TIMED_TRIAL: "How long it takes is not known: no heater of yours was timed yet. Time one outside a hive "
    "first; no other person’s minutes are taken for yours.",
    NoPlan.TOO_MANY_LOADS: "More loads than a plan is made for. Split the yard over two days.",
}
NO_CHARGE_WORDS = {
    NoCharge.CURRENT_UNKNOWN: "What the heater draws is not noted, so its charge is not known.",
    NoCharge.CAPACITY_UNKNOWN: "What the battery holds is not noted, so nobody can say whether it lasts.",
    NoCharge.LOAD_TOO_LARGE: "One load alone takes more than a battery gives.",
}


def sheet_page(found: DaySheet, person: Person) -> dict[str, Any]:
    """Context of the sheet's page."""
    sheet = sheet_of(found)
    treatment, yard = sheet.treatment, sheet.treatment.yard
    rounds = list(treatment.rounds.all())
    clear, dates = treatment.clear_on(), treatment.round_dates()[found.round.number - 1]
    may_act = (
        Yard.objects.recordable_by(person).filter(pk=yard.pk).exists() and treatment.cancelled_at is None
    )
    told = yard_on(yard, found.round.planned_on)
    return {
        "sheet": sheet,
        "found": found,
        "round": found.round,
        "treatment": treatment,
        "yard": yard,
        "rounds": rounds,
        "next_round": next((one for one in rounds if one.number == found.round.number + 1), None),
        "out_on": dates.last_on if dates.stays_in_days else None,
        "clear_on": clear,
        "recount": treatment.recount,
        "cautions": cautions_for(treatment.application),
        "sealing": SEALING if sheet.vapour else (),
        "kit": KIT_VAPOUR if sheet.vapour else KIT_OTHER,
        "no_plan": NO_PLAN_WORDS.get(sheet.no_plan, "No plan can be made from these numbers.")
        if sheet.no_plan
        else "",
        "power": power_words(sheet),
        "savings": savings_words(sheet),
        "expected": expected_of(treatment.application, [one.planned_on for one in rounds], told),
        "standing": in_the_way(treatment.application, told) if found.round.given_on is None else [],
        "may_act": may_act and found.round.given_on is None,
        "may_plan": may_act
        and found.round.given_on is None
        and not SheetMark.objects.filter(hive__sheet=found).exists(),
    }


def in_the_way(way: Application, told: YardToday) -> list[str]:
    """In words, what stands in the way of treating on the day, from what is noted. Temperatures are asked elsewhere."""
    checks = possible(limits_for(way), told).checks
    return [
        f"{SUBJECT_WORDS[one.subject]}: {check_words(one)}" for one in checks if one.stand is Stand.IN_THE_WAY
    ]


def as_planned(round_: Round) -> dict[str, Any]:
    """A round's sheet as it would be typed; empty where there is none."""
    found = DaySheet.objects.filter(round=round_).select_related("device").first()
    if found is None:
        return {}
    hives = list(found.hives.select_related("colony"))
    amounts = {f"dose_{hive.colony.brood_boxes}": hive.amount.normalize() for hive in hives}
    return amounts | {
        "colonies": [hive.colony_id for hive in hives],
        "starts_at": found.starts_at,
        "people": found.people,
        "device": found.device_id,
        "heaters": found.heaters,
        "wait_minutes": found.wait_minutes.normalize(),
        "sealed_minutes": found.sealed_minutes.normalize(),
    }


def power_words(sheet: Sheet) -> list[str]:
    """Whether the batteries last, in sentences; empty without a battery."""
    power, device = sheet.power, sheet.sheet.device
    if power is None or device is None:
        return []
    if power.reason is not None:
        return [NO_CHARGE_WORDS.get(power.reason, "The battery’s numbers do not fit together.")]
    words = [f"The day takes about {power.amp_hours:.0f} Ah from the batteries."]
    for day in power.batteries:
        use = f"Battery {day.battery}: {100 * day.share:.0f} % of its usable charge"
        if day.short_at is None:
            words.append(f"{use}. It lasts.")
        else:
            name = sheet.rows[day.short_at.hive - 1].hive.colony.name
            words.append(f"{use}. It runs short at colony {name}.")
    have = f"{device.batteries} noted"
    words.append(
        f"Batteries needed if changed in time: {power.needed}; {have}."
        + ("" if power.enough else " That is not enough.")
    )
    return words


def savings_words(sheet: Sheet) -> list[str]:
    """What one more person or more heaters would save."""
    found = []
    for one in sheet.savings:
        heaters = f"{one.heaters} heater{'s' if one.heaters > 1 else ''}"
        people = "two people" if one.people == 2 else "one person"
        found.append(f"With {heaters} and {people}: {span_words(one.finish)}, {span_words(one.saved)} less.")
    return found
