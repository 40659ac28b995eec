"""What was given to the colonies of treatments and what was counted around it, read in a constant number of queries."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.backends.postgresql.psycopg_any import DateRange
from django.db.models import QuerySet, prefetch_related_objects

from apiaries.lineage import BeesChanged
from apiaries.models import ChangeKind, Colony, Yard
from apiaries.second_lock import by_the_service
from counts.beside import Span
from counts.models import MiteSample
from treatments.around_read import DoseGiven, FromDatabase, Source
from treatments.constants import DEFAULTS
from treatments.ingredients import Ingredient, is_biotechnical
from treatments.models import Dose, Treatment
from treatments.status import days_after


@dataclass(frozen=True, slots=True)
class Given:
    """A dose a colony got: from that day until it was out again. `acts`: it put something into the hive."""

    treatment_id: int
    on: dt.date
    last_on: dt.date
    acts: bool


@dataclass(frozen=True, slots=True)
class Around:
    """One treatment with its dosed colonies, the other colonies counted in its yard, their doses and counts."""

    treatment: Treatment
    colonies: tuple[Colony, ...]
    others: tuple[Colony, ...]
    given: Mapping[int, Sequence[Given]]
    samples: Mapping[int, Sequence[MiteSample]]
    bees: BeesChanged

    def changed_between(
        self, colony: Colony, before: Sequence[MiteSample], after: Sequence[MiteSample]
    ) -> set[ChangeKind]:
        """What changed in the colony's bees or queen from one count to the next."""
        return self.bees.between(colony.pk, before[0].sampled_on, after[0].sampled_on)

    def doses_of(self, colony: Colony) -> list[Given]:
        """What the colony got in this treatment."""
        return [one for one in self.given.get(colony.pk, ()) if one.treatment_id == self.treatment.pk]

    def other_doses_of(self, colony: Colony) -> list[Given]:
        """What it got of other treatments. Work on the brood puts nothing into the hive and is left out."""
        return [
            one for one in self.given.get(colony.pk, ()) if one.acts and one.treatment_id != self.treatment.pk
        ]

    def first_dose_on(self) -> dt.date | None:
        """The day of the first dose of any colony."""
        return min((one.on for colony in self.colonies for one in self.doses_of(colony)), default=None)


def read_around(
    treatments: Iterable[Treatment], on: dt.date, *, with_others: bool = True
) -> dict[int, Around]:
    """By treatment's key, what is known on that day. At most eight queries, however many treatments and counts."""
    pks = [treatment.pk for treatment in treatments]
    by_pk = whole(Treatment.objects.all()).in_bulk(pks)
    found = [by_pk[pk] for pk in dict.fromkeys(pks) if pk in by_pk]
    return around_of(found, on, with_others=with_others)


def whole(treatments: "QuerySet[Treatment]") -> "QuerySet[Treatment]":
    """With all that `around_of` needs of them. Two queries."""
    rows = treatments.select_related("application", "yard__club", "yard__keeper", "recount")
    return rows.prefetch_related("rounds")


def whole_in(treatments: "QuerySet[Treatment]", yards: Iterable[Yard]) -> list[Treatment]:
    """The same of treatments whose yards (with club and keeper) are read already, each once."""
    known = {yard.pk: yard for yard in yards}
    found = list(treatments.select_related("application", "recount").prefetch_related("rounds"))
    for treatment in found:
        treatment.yard = known[treatment.yard_id]
    return found


@by_the_service
def around_of(
    found: Collection[Treatment], on: dt.date, *, with_others: bool = True, source: Source | None = None
) -> dict[int, Around]:
    """As `read_around` of treatments that are `whole`.

    Whoever may see a treatment is told the same outcome, also of colonies that were counted since where they may not
    look; which counts these are is told only to who may see them.

    From the database: five queries, one more at most for yards of elsewhere; none without treatments.
    """
    if not found:
        return {}
    source = source or FromDatabase()
    dosed = _dosed(source.dosed([treatment.pk for treatment in found], on))
    first = min(_first_day(treatment) for treatment in found)
    yards = {treatment.yard_id: treatment.yard for treatment in found}
    treated = set().union(*dosed.values())
    samples = _by_colony(source.counts(treated, set(yards) if with_others else set(), first, on))
    told = treated | set(samples)
    colonies = source.colonies(told)  # each once, whatever it got and was counted
    _name(samples, yards, colonies)
    given, counted, bees = _given(source.given(told, on)), _counted_in(samples), source.bees(told)
    return {
        treatment.pk: Around(
            treatment,
            mine := tuple(sorted((colonies[pk] for pk in dosed[treatment.pk]), key=_reading_order)),
            _others(mine, counted.get(treatment.yard_id, {}), bees) if with_others else (),
            given,
            samples,
            bees,
        )
        for treatment in found
    }


def _dosed(doses: Iterable[tuple[int, int]]) -> Mapping[int, set[int]]:
    """By treatment, the keys of the colonies that got a dose."""
    found: dict[int, set[int]] = defaultdict(set)
    for treatment, colony in doses:
        found[treatment].add(colony)
    return found


def _reading_order(colony: Colony) -> tuple[bool, int, str, int]:
    return colony.number is None, colony.number or 0, colony.name, colony.pk


def _first_day(treatment: Treatment) -> dt.date:
    days = [round_.given_on or round_.planned_on for round_ in treatment.rounds.all()]
    earliest = min(days, default=treatment.recount.earliest_on)
    return days_after(earliest, -int(DEFAULTS.before_count_days.value))


def _by_colony(samples: Iterable[MiteSample]) -> dict[int, list[MiteSample]]:
    """In their order. A colony takes its counts along when it moves."""
    found: dict[int, list[MiteSample]] = defaultdict(list)
    for sample in samples:
        found[sample.colony_id].append(sample)
    return dict(found)


def _name(
    samples: Mapping[int, Sequence[MiteSample]], yards: Mapping[int, Yard], colonies: Mapping[int, Colony]
) -> None:
    """Give each count its yard and its colony; yards that are not known are read, each once."""
    rows = [sample for several in samples.values() for sample in several]
    for sample in rows:
        if sample.yard_id in yards:
            sample.yard = yards[sample.yard_id]
        sample.colony = colonies[sample.colony_id]
    prefetch_related_objects([one for one in rows if one.yard_id not in yards], "yard__club")


def _given(doses: Iterable[DoseGiven]) -> dict[int, list[Given]]:
    """By colony, in their order."""
    found: dict[int, list[Given]] = defaultdict(list)
    for colony_id, treatment_id, given_on, in_hive, ingredient in doses:
        if given_on is None:
            continue
        last = days_after(in_hive.upper, -1)
        acts = not is_biotechnical(Ingredient(ingredient))
        found[colony_id].append(Given(treatment_id, given_on, last, acts))
    return dict(found)


def _counted_in(samples: Mapping[int, Sequence[MiteSample]]) -> dict[int, dict[int, Colony]]:
    """By yard, the colonies that were counted in it."""
    found: dict[int, dict[int, Colony]] = defaultdict(dict)
    for pk, rows in samples.items():
        for sample in rows:
            found[sample.yard_id][pk] = sample.colony
    return found


def _others(
    colonies: Collection[Colony], counted: Mapping[int, Colony], bees: BeesChanged
) -> tuple[Colony, ...]:
    """Colonies without a dose of this treatment that were counted in its yard.

    One that was split from a treated colony is none of them: its bees may have been treated in the other hive.
    """
    treated = {colony.pk for colony in colonies}
    others = (one for pk, one in counted.items() if pk not in treated and not _descends(pk, treated, bees))
    return tuple(sorted(others, key=_reading_order))


def _descends(colony: int, treated: Collection[int], bees: BeesChanged) -> bool:
    mother = bees.mothers.get(colony)
    return mother is not None and (mother[0] in treated or _descends(mother[0], treated, bees))


@by_the_service
def treated_spans(spans: Collection[Span]) -> set[Span]:
    """Those spans between two counts of a colony in which something was given to it or was in its hive. One query.

    Also where the reader may not look: what was given there explains a fall, and nobody is asked about it.
    """
    if not spans:
        return set()
    doses = Dose.objects.filter(
        colony__in={span.colony_id for span in spans},
        voided_at=None,
        round__given_on__isnull=False,
        in_hive__overlap=DateRange(
            min(span.first for span in spans), max(span.last for span in spans), bounds="[]"
        ),
    )
    given: dict[int, list[DateRange]] = defaultdict(list)
    for colony_id, in_hive in doses.values_list("colony_id", "in_hive"):
        given[colony_id].append(in_hive)
    return {span for span in spans if any(_within(one, span) for one in given[span.colony_id])}


def _within(in_hive: DateRange, span: Span) -> bool:
    """Whether a stretch of days, its end not included, touches a span. An open end reaches on."""
    begins = in_hive.lower is None or in_hive.lower <= span.last
    return begins and (in_hive.upper is None or in_hive.upper > span.first)
