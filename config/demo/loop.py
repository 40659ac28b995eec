"""Goes once round the loop for one yard of the demo, by the same actions as the pages, and tells what it found.

Before-counts 16 days ago, a treatment planned and given two days later, the recount mail of today, after-counts,
the outcome, the region's month. Done a second time it finds everything already here and tells the same.
"""

import datetime as dt
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from apiaries.actions import add_numbered_colonies, add_yard, update_person
from apiaries.models import Brood, Colony, Person, Yard
from config.demo import scenario
from config.demo.days import planned_day
from config.demo.load import LOOP_KEEPER
from counts.actions import NewCount, record_samples
from counts.models import MiteSample
from counts.samples import BeesBy, Kind, Method
from counts.saying import sample_page
from reports.figures import refresh_all_marked
from reports.models import Digest, DigestState, RegionMonth
from reports.parts import Part
from reports.planner import plan_notices
from reports.sender import send_due
from treatments.actions import NewDose
from treatments.day_actions import finish_round
from treatments.day_sheet import sheet_of
from treatments.medicine_actions import RecordFields
from treatments.models import DaySheet, Treatment
from treatments.results import result_of
from treatments.sentences import outcome_sentence

YARD = "Practice yard"
SHEET_YARD = "round__treatment__yard__club"
BEFORE, AFTER = (14, 22, 9, 17, 11, 19), (1, 0, 0, 1, 0, 1)
BEFORE_DAYS, TREATED_DAYS = 16, 14
KEYS = uuid.UUID("5c0f7a52-3f5e-4a4e-9c69-0d6f6f1f5d2e")


@dataclass(frozen=True)
class Answer:
    """One of the five things the loop says; `found` is False where it could not say it."""

    step: str
    text: str
    found: bool


def go_round(now: dt.datetime) -> Iterator[Answer]:
    """The five answers, each as soon as it is known."""
    keeper = Person.objects.get(email=LOOP_KEEPER)
    yard = _yard(keeper, now)
    before = _count(yard, BEFORE, BEFORE_DAYS, "before", now)
    yield _what_it_says(before[1])
    treatment = _treatment(yard, now)
    yield _the_day(treatment)
    yield _the_mail(keeper, now)
    _count(yard, AFTER, 0, "after", now)
    yield _the_outcome(treatment, yard.local_date(now))
    yield _the_region(yard, now)


def _yard(keeper: Person, now: dt.datetime) -> Yard:
    """The practice yard, set up the first time. Its keeper's mail leaves at the hour it is now: today's is due."""
    yard = Yard.objects.filter(keeper=keeper, name=YARD).first()
    if yard is not None:
        return yard
    update_person(
        person=keeper,
        name=keeper.name,
        time_zone=keeper.time_zone,
        language=keeper.language,
        mail_at=dt.time(now.astimezone(ZoneInfo(keeper.time_zone)).hour),
        wants_mail=True,
        wants_calls=keeper.wants_calls,
        wants_bulletins=keeper.wants_bulletins,
        quiet_days=[],
        by=keeper,
    )
    region = keeper.memberships.get().club.regions.get(name=scenario.REGIONS[0])
    yard = add_yard(keeper=keeper, region=region, name=YARD, by=keeper)
    started_on = now.astimezone(ZoneInfo(yard.time_zone)).date() - dt.timedelta(days=200)
    add_numbered_colonies(yard=yard, first=1, last=6, started_on=started_on, brood_boxes=2, by=keeper)
    return yard


def _count(
    yard: Yard, mites: tuple[int, ...], days_ago: int, when: str, now: dt.datetime
) -> list[MiteSample]:
    """Six jars of 300 bees; those that are here already if the loop ran before."""
    keys = [uuid.uuid5(KEYS, f"{when} {number}") for number in range(len(mites))]
    here = MiteSample.objects.filter(entry_key__in=keys).select_related("colony", "yard__club", "basis")
    if here:
        return sorted(here, key=lambda sample: sample.colony.number or 0)
    on = yard.local_date(now) - dt.timedelta(days=days_ago)
    counts = [
        NewCount(
            colony=colony,
            method=Method.ALCOHOL_WASH,
            sampled_on=on,
            mites=found,
            bees=300,
            bees_by=BeesBy.VOLUME,
            brood=Brood.NONE,
            entry_key=key,
        )
        for colony, found, key in zip(_colonies(yard), mites, keys, strict=True)
    ]
    return record_samples(counts=counts, at=now, by=yard.keeper)


def _treatment(yard: Yard, now: dt.datetime) -> Treatment:
    """Planned with its sheet, then finished, as the pages do it."""
    key, on = uuid.uuid5(KEYS, "treatment"), yard.local_date(now) - dt.timedelta(days=TREATED_DAYS)
    treatment = planned_day(yard, _colonies(yard), [on], key=key, at=now)
    round_ = treatment.rounds.get()
    if round_.given_on is None:
        hives = round_.sheet.hives.select_related("colony")
        finish_round(
            round_=round_,
            given_on=on,
            doses=[NewDose(hive.colony, hive.amount) for hive in hives],
            told=RecordFields(product=treatment.product, withdrawal_days=0),
            at=now,
            by=yard.keeper,
        )
    return Treatment.objects.select_related("application", "yard__club", "recount").get(pk=treatment.pk)


def _colonies(yard: Yard) -> list[Colony]:
    return list(yard.colonies.living().in_reading_order().select_related("yard__club"))


def _what_it_says(sample: MiteSample) -> Answer:
    raw = f"{sample.mites} mites in {sample.bees} bees, colony {sample.colony.name}"
    says = sample_page(MiteSample.objects.select_related("colony", "yard__club", "basis").get(pk=sample.pk))
    return Answer("What this count says", f"{raw}. {says['sentence']}", sample.rate is not None)


def _the_day(treatment: Treatment) -> Answer:
    kept = DaySheet.objects.select_related("device", SHEET_YARD).filter(round__treatment=treatment).first()
    if kept is None:
        return Answer("The treatment day", "this database was loaded before sheets were kept", found=False)
    sheet = sheet_of(kept)
    recount, total = treatment.recount, sheet.total
    lasts = sheet.power is not None and sheet.power.enough
    text = (
        f"{treatment.application.name}, {sheet.start:%d %b %Y}: {len(sheet.rows)} hives,"
        f" {total.doses.normalize():f} g in all; bring {total.to_bring.normalize():f} g with the spare."
        f" Start {sheet.start:%H:%M}, {sheet.hours}; the battery {'lasts' if lasts else 'runs short'}."
        f" Recount on {recount.ideal_on:%d %b %Y}. {recount.reason}"
    )
    return Answer("The treatment day", text, sheet.plan is not None)


def _the_mail(keeper: Person, now: dt.datetime) -> Answer:
    """Planned and sent as the worker does it; twice, since a mail of the day may wait for its notice."""
    plan_notices(at=now)
    send_due(at=now)
    sent = Digest.objects.filter(person=keeper, state=DigestState.SENT).order_by("on").first()
    if sent is None:
        return Answer("The recount mail", "no mail was sent", found=False)
    about = ", ".join(f"{notice.get_kind_display()}" for notice in sent.notices.filter(withdrawn_at=None))
    return Answer("The recount mail", f"sent to {keeper.email} for {sent.on:%d %b %Y}: {about}", found=True)


def _the_outcome(treatment: Treatment, on: dt.date) -> Answer:
    result = result_of(treatment, on)
    outcome = result.outcome
    word = outcome.verdict.value.replace("_", " ")
    sentence = outcome_sentence(outcome, result.target.value if result.target else None)
    return Answer("Did it work?", f"{word}. {sentence}", outcome.drop is not None)


def _the_region(yard: Yard, now: dt.datetime) -> Answer:
    refresh_all_marked(at=now)
    month = yard.local_date(now).replace(day=1)
    shown = RegionMonth.objects.filter(
        region=yard.region, kind=Kind.WASH, part=Part.ALL, reason="", frozen_at=None
    ).exclude(rate=None)
    row = shown.filter(month__lte=month).order_by("-month").first()
    if row is None or row.rate is None or row.low is None or row.high is None:
        return Answer("The region's month", "no month with enough keepers", found=False)
    text = (
        f"{row.region}, {row.month:%B %Y}: {row.rate * 100:.1f} mites per 100 bees"
        f" ({row.low * 100:.1f} to {row.high * 100:.1f}),"
        f" {row.keepers} keepers, {row.yards} yards, {row.bees or 0:,} bees"
    )
    return Answer("The region's month", text, found=True)
