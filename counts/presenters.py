"""What the pages show of counts, fetched with a number of queries that does not depend on how many there are."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Protocol

from django.db.models import QuerySet, prefetch_related_objects

from apiaries.language import figure, mark, say, say_many
from apiaries.lineage import Ancestor, ancestors_for
from apiaries.models import Colony, Person, Visit, Yard
from apiaries.on_page import ColonyOnPage, YardOnPage
from apiaries.panels import Panel
from apiaries.templatetags.recount_words import day_and_time, plain
from apiaries.zones import zone_of
from counts.change_actions import in_its_place, in_whose_place
from counts.models import METHOD_WORDS, MiteSample
from counts.on_page import last_for, yard_says_for
from counts.samples import BeesBy, Kind, Method
from counts.standing import Published, Said, published_for

PANEL_ORDER = 10  # counts come before treatments
COLONY_ROWS = 40
ANCESTOR_ROWS = 10
_PER_100 = mark("per 100 bees")
UNITS = {Kind.WASH: _PER_100, Kind.ROLL: _PER_100, Kind.BOARD: mark("per day"), Kind.DRONE_BROOD: ""}


class Raw(Protocol):
    """What was counted: of a whole count, or of the part of it that was read."""

    @property
    def kind(self) -> Kind: ...
    @property
    def mites(self) -> int: ...
    @property
    def bees(self) -> int | None: ...
    @property
    def bees_by(self) -> str: ...
    @property
    def board_days(self) -> Decimal | None: ...
    @property
    def cells_counted(self) -> int | None: ...
    @property
    def cells_total(self) -> int | None: ...


@dataclass(frozen=True, slots=True)
class CountRow:
    """One count as lists and pages show it: figures scaled to the unit they are told in."""

    sample: MiteSample
    said: Said
    raw: str
    unit: str
    rate: float | None
    low: float | None
    high: float | None

    @property
    def none_found(self) -> bool:
        return self.sample.mites == 0

    @property
    def method(self) -> str:
        """In words. Django's own looks up all methods to tell one."""
        return str(METHOD_WORDS[Method(self.sample.method)])


def with_all(samples: "QuerySet[MiteSample]") -> "QuerySet[MiteSample]":
    """What a row needs, in one query."""
    return samples.select_related("colony", "yard__club", "yard__keeper", "basis", "recorded_by", "voided_by")


def fill_in(
    samples: Sequence[MiteSample], *, yards: Iterable[Yard] = (), colonies: Iterable[Colony] = ()
) -> None:
    """Give counts that were read alone what a row of a list needs; yards (with `club`) and colonies that are known.

    Each yard, colony and basis is read once, however many counts there are of it: up to four queries.
    """
    known, named = {yard.pk: yard for yard in yards}, {colony.pk: colony for colony in colonies}
    for sample in samples:
        if sample.yard_id in known:
            sample.yard = known[sample.yard_id]
        if sample.colony_id in named:
            sample.colony = named[sample.colony_id]
    prefetch_related_objects([one for one in samples if one.yard_id not in known], "yard__club")
    prefetch_related_objects([one for one in samples if one.colony_id not in named], "colony")
    prefetch_related_objects([one for one in samples if one.voided_at is not None], "voided_by")
    prefetch_related_objects(samples, "basis")


def rows_of(samples: Iterable[MiteSample], published: Published | None = None) -> list[CountRow]:
    """A row for each count, in the order given."""
    published = published or Published()
    return [row_of(sample, published) for sample in samples]


def row_of(sample: MiteSample, published: Published) -> CountRow:
    said = published.said(sample)
    scale = 1.0 if sample.kind is Kind.BOARD else 100.0
    rate, low, high = (
        None if value is None else value * scale for value in (sample.rate, sample.low, sample.high)
    )
    return CountRow(sample, said, raw_words(sample), say(UNITS[sample.kind]), rate, low, high)


def raw_words(sample: Raw) -> str:
    """What was counted, as it was counted: 9 in 300 bees, 12 in 3 days, 7 of 60 drone cells."""
    mites = figure(f"{sample.mites:,}")
    if sample.kind is Kind.DRONE_BROOD:
        cells = figure(f"{sample.cells_counted or 0:,}")
        return say("{mites} of {cells} drone cells", mites=mites, cells=cells)
    if sample.kind is Kind.BOARD:
        return _board_words(sample, mites)
    about = mark("{mites} in about {bees} bees")
    words = mark("{mites} in {bees} bees") if sample.bees_by == BeesBy.COUNTED else about
    return say(words, mites=mites, bees=figure(f"{sample.bees or 0:,}"))


def _board_words(sample: Raw, mites: str) -> str:
    """What fell on a board in its days, on the part of it that was counted; days may be a fraction."""
    whole = 1 if sample.board_days == 1 else 2
    told = {"n": plain(sample.board_days), "mites": mites}
    if not sample.cells_total:
        return say_many("{mites} in {n} day", "{mites} in {n} days", whole, **told)
    return say_many(
        "{mites} in {n} day on {counted} of {total} cells",
        "{mites} in {n} days on {counted} of {total} cells",
        whole,
        counted=sample.cells_counted,
        total=sample.cells_total,
        **told,
    )


MEASURED = {
    BeesBy.COUNTED.value: mark("counted one by one"),
    BeesBy.VOLUME.value: mark("by a measure, not counted"),
    BeesBy.NOMINAL.value: mark("taken as this number, not counted"),
}


def measured_words(sample: MiteSample) -> str:
    """How the bees of a jar were measured."""
    return say(MEASURED.get(sample.bees_by, ""))


def yard_panel(person: Person, page: YardOnPage) -> Panel | None:
    """Counts on a yard's page: what the yard says, and the last count of every colony."""
    colonies = page.living
    last = {row.sample.colony_id: row for row in rows_of(page.once(last_for), page.once(published_for))}
    rows = [(colony, last.get(colony.pk)) for colony in colonies]
    context = {
        "may_count": page.recordable,
        "rows": rows,
        "counted": len(last),
        "above": [colony for colony, row in rows if row and row.said.key == "above"],
        "says": page.once(yard_says_for),
    }
    return Panel("counts/_yard_panel.html", PANEL_ORDER, context) if colonies or last else None


def colony_panel(person: Person, page: ColonyOnPage) -> Panel:
    """Counts on a colony's page, newest first, those that no longer count struck through."""
    colony, published = page.colony, page.once(published_for)
    samples = MiteSample.objects.visible_to(person).filter(colony=colony).newest_first()
    found = list(samples[: COLONY_ROWS + 1])
    fill_in(found, yards=[colony.yard], colonies=[colony])
    context = {
        "may_count": page.recordable,
        "rows": rows_of(found[:COLONY_ROWS], published),
        "more": len(found) > COLONY_ROWS,
        "before": _of_ancestors(page),
    }
    return Panel("counts/_colony_panel.html", PANEL_ORDER, context)


def colony_first_panel(person: Person, page: ColonyOnPage) -> Panel | None:
    """The button that whoever scans a hive label is after."""
    may_count = page.colony.ended_on is None and page.recordable
    return Panel("counts/_colony_first.html", PANEL_ORDER) if may_count else None


def _of_ancestors(page: ColonyOnPage) -> list[tuple[Ancestor, list[CountRow]]]:
    """The newest counts of each colony it was split from, up to the day of the split, that the person may see."""
    ancestors = page.once(ancestors_for)
    visible = with_all(MiteSample.objects.visible_to(page.person).standing().newest_first())
    published = page.once(published_for)
    found = [
        (
            one,
            rows_of(visible.filter(colony=one.colony, sampled_on__lte=one.until)[:ANCESTOR_ROWS], published),
        )
        for one in ancestors
    ]
    return [(one, rows) for one, rows in found if rows]


def history_of(sample: MiteSample, person: Person) -> list[MiteSample]:
    """The counts that this one replaced, newest first; those that the person may see."""
    keys = in_whose_place(sample)
    visible = MiteSample.objects.visible_to(person).select_related("recorded_by", "voided_by").in_bulk(keys)
    return [visible[key] for key in keys if key in visible]


def moment(at: dt.datetime, person: Person) -> dt.datetime:
    """A moment on the reader's own clock."""
    return at.astimezone(zone_of(person.time_zone))


def context_of(sample: MiteSample, person: Person) -> dict[str, Any]:
    """Who recorded a count, when, and what became of it."""
    corrections = MiteSample.objects.visible_to(person).filter(corrects=sample).order_by("-pk")
    replaced = corrections.first() if sample.voided_at else None
    return {
        "recorded_at": moment(sample.recorded_at, person),
        "voided_at": moment(sample.voided_at, person) if sample.voided_at else None,
        "replaced_by": replaced,
        "older": [(old, raw_words(old)) for old in history_of(sample, person)],
        "restored": [
            (one, moment(one.voided_at, person), moment(one.restored_at, person))
            for one in sample.restorations.select_related("voided_by", "restored_by")
        ],
        "may_restore": sample.voided_at is not None and in_its_place(sample) is None,
        "at_visit": sample.visit_id is not None,
        "visit": Visit.objects.visible_to(person).filter(pk=sample.visit_id).first()
        if sample.visit_id
        else None,
    }


def changed_words(sample: MiteSample, person: Person) -> str:
    """What was done to a count last, by whom and when, for somebody who was just about to change it."""
    if sample.voided_at is not None and sample.voided_by is not None:
        corrected = mark("{name} corrected it, {when}: {why}")
        words = corrected if in_its_place(sample) else mark("{name} voided it, {when}: {why}")
        when = day_and_time(moment(sample.voided_at, person))
        return say(words, name=sample.voided_by.name, when=when, why=sample.voided_why)
    last = sample.restorations.select_related("restored_by").last()
    if last is None:
        return say("It was changed.")
    when = day_and_time(moment(last.restored_at, person))
    return say(
        "{name} restored it, {when}: {why}", name=last.restored_by.name, when=when, why=last.restored_why
    )
