"""The page of a round's sheet: the sheet worked out, what to bring, what to seal, what is due after."""

from typing import Any

from apiaries.language import figure, mark, say, say_many
from apiaries.models import Person, Yard
from treatments.battery import BatteryDay, NoCharge
from treatments.day_plan import NoPlan, Saving
from treatments.day_sheet import Sheet, sheet_of, span_words
from treatments.expect import expected_of
from treatments.models import Application, DaySheet, Round, SheetMark
from treatments.possible import Stand, YardToday, possible
from treatments.possible_page import limits_for, yard_on
from treatments.possible_words import check_words, subject_words
from treatments.ways import cautions_for

SEALING = (
    mark("entrance"),
    mark("vents and lid holes"),
    mark("the floor, with its board in"),
    mark("gaps between boxes and feed holes"),
)
"""What to seal before vapour (common practice, no source)."""
KIT_VAPOUR = (
    mark("half mask with filters for particles and acid gas, filters in date"),
    mark("tight goggles"),
    mark("acid-proof gloves"),
    mark("water for eyes and skin"),
    mark("scale that shows a tenth of a gram"),
    mark("foam or cloth for sealing"),
    mark("fire blanket and water"),
    mark("this sheet and a pen"),
)
"""What to bring for vapour: respirator, goggles, gloves as ICSC 0707; the rest common practice, no source."""
KIT_OTHER = (
    mark("gloves as the label says"),
    mark("goggles"),
    mark("water for eyes and skin"),
    mark("this sheet and a pen"),
)

NO_PLAN_WORDS = {
    NoPlan.NO_HIVES: mark("No hive is on the sheet."),
    NoPlan.NO_TIMED_TRIAL: mark(
        "How long it takes is not known: no heater of yours was timed yet. Time one outside a hive "
        "first; no other person’s minutes are taken for yours."
    ),
    NoPlan.TOO_MANY_LOADS: mark("More loads than a plan is made for. Split the yard over two days."),
}
NO_PLAN = mark("No plan can be made from these numbers.")
NO_CHARGE_WORDS = {
    NoCharge.CURRENT_UNKNOWN: mark("What the heater draws is not noted, so its charge is not known."),
    NoCharge.CAPACITY_UNKNOWN: mark(
        "What the battery holds is not noted, so nobody can say whether it lasts."
    ),
    NoCharge.LOAD_TOO_LARGE: mark("One load alone takes more than a battery gives."),
}
NO_FIT = mark("The battery’s numbers do not fit together.")


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
        "sealing": [say(one) for one in SEALING] if sheet.vapour else [],
        "kit": [say(one) for one in (KIT_VAPOUR if sheet.vapour else KIT_OTHER)],
        "no_plan": say(NO_PLAN_WORDS.get(sheet.no_plan, NO_PLAN)) if sheet.no_plan else "",
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
        f"{subject_words(one.subject)}: {check_words(one)}" for one in checks if one.stand is Stand.IN_THE_WAY
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
        return [say(NO_CHARGE_WORDS.get(power.reason, NO_FIT))]
    hours = figure(f"{power.amp_hours:.0f}")
    words = [say("The day takes about {hours} Ah from the batteries.", hours=hours)]
    words += [_battery_words(sheet, day) for day in power.batteries]
    needed = say(
        "Batteries needed if changed in time: {needed}; {have} noted.",
        needed=power.needed,
        have=device.batteries,
    )
    return [*words, needed if power.enough else " ".join((needed, say("That is not enough.")))]


def _battery_words(sheet: Sheet, day: BatteryDay) -> str:
    use = {"battery": day.battery, "share": figure(f"{100 * day.share:.0f}")}
    if day.short_at is None:
        return say("Battery {battery}: {share} % of its usable charge. It lasts.", **use)
    return say(
        "Battery {battery}: {share} % of its usable charge. It runs short at colony {name}.",
        name=sheet.rows[day.short_at.hive - 1].hive.colony.name,
        **use,
    )


def savings_words(sheet: Sheet) -> list[str]:
    """What one more person or more heaters would save."""
    return [_saving_words(one) for one in sheet.savings]


def _saving_words(one: Saving) -> str:
    times = {"finish": span_words(one.finish), "saved": span_words(one.saved)}
    if one.people == 2:
        return say_many(
            "With {n} heater and two people: {finish}, {saved} less.",
            "With {n} heaters and two people: {finish}, {saved} less.",
            one.heaters,
            **times,
        )
    return say_many(
        "With {n} heater and one person: {finish}, {saved} less.",
        "With {n} heaters and one person: {finish}, {saved} less.",
        one.heaters,
        **times,
    )
