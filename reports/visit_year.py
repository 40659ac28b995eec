"""The figures of a calendar year of visits, each with the definition it is counted by.

Counted are visits that stand (neither voided nor replaced) and were made in the year, in the regions of the reader.
A share never stands without its range and what it is a share of.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q, QuerySet, Sum

from apiaries.language import figure, mark, say
from apiaries.models import Colony, LabSample, Person, Visit, VisitFinding, VisitOrder, VisitSuspicion, Yard
from apiaries.visit_reference import disease_of
from apiaries.visit_words import ASPECTS, code_words
from counts.models import METHOD_WORDS, MiteSample
from counts.samples import Method

LEVEL = 0.95
CSV_HEADING = ("figure", "words", "number", "of", "low_percent", "high_percent", "definition")
DEFINITIONS = {
    "keepers": mark(
        "Keepers with at least one open yard on the last day of the year, or today in the current year."
    ),
    "yards": mark("Yards open on that day: set up before its end, and not closed."),
    "colonies": mark(
        "Colonies living on that day in those yards, by the yard in which they stand now: a colony that has moved "
        "since counts where it went."
    ),
    "visits": mark(
        "Visits made in the year. A visit that was corrected counts once, a voided one not at all."
    ),
    "keepers_visited": mark("Different keepers of the yards visited."),
    "yards_visited": mark("Different yards visited."),
    "present": mark("Colonies present, added up over visits: a yard visited twice counts twice."),
    "opened": mark("Colonies opened, added up over visits: a colony opened at two visits counts twice."),
    "colonies_seen": mark(
        "Different colonies with a finding; a colony that is not on the list of its yard has none."
    ),
    "finding": mark("Colonies in which this was seen at a visit, of all in which the thing was looked at."),
    "suspicion": mark("Different yards in which this was suspected at a visit. A suspicion is no diagnosis."),
    "positive": mark(
        "Counts made at visits with at least one mite, of all counts made at visits by this method. The share has its "
        "95 % range (Wilson). Finding none in a jar does not mean that there are none."
    ),
    "orders": mark("Orders given at these visits."),
    "orders_done": mark("Of these, noted as done by today."),
    "lab_samples": mark("Samples taken for a laboratory at these visits."),
    "answers": mark("Of these, answered by today."),
}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: a number, or a number of so many; shares in percent with their range where `of` is a sample."""

    key: str
    words: str
    number: int
    definition: str
    of: int | None = None
    low: float | None = None
    high: float | None = None

    @property
    def share(self) -> float | None:
        """In percent; only where its range stands beside it."""
        return 100 * self.number / self.of if self.of and self.low is not None else None

    @property
    def share_words(self) -> str:
        """Such as "49 % (42 to 56 %)"; empty where there is no range."""
        if self.share is None or self.low is None or self.high is None:
            return ""
        ends = {"share": self.share, "low": self.low, "high": self.high}
        return say(
            "{share} % ({low} to {high} %)", **{name: figure(f"{end:.0f}") for name, end in ends.items()}
        )


@dataclass(frozen=True, slots=True)
class YearFigures:
    """All of a year, in three parts."""

    year: int
    on: dt.date
    whole: Sequence[Figure]
    findings: Sequence[Figure]
    counts: Sequence[Figure]

    @property
    def all(self) -> Sequence[Figure]:
        return [*self.whole, *self.findings, *self.counts]


def year_figures(person: Person, year: int, today: dt.date) -> YearFigures:
    """The figures for the regions that the person inspects. A constant number of queries."""
    end = min(dt.date(year, 12, 31), today)
    after = dt.datetime.combine(end + dt.timedelta(days=1), dt.time(), tzinfo=dt.UTC)
    yards = Yard.objects.inspected_by(person).filter(made_at__lt=after)
    yards = yards.filter(Q(closed_on=None) | Q(closed_on__gt=end))
    made = Visit.objects.made().inspected_by(person).filter(visited_on__year=year)
    return YearFigures(
        year=year,
        on=end,
        whole=[*_on_record(yards, end), *_visits(made), *_after(made)],
        findings=[*_findings(made), *_suspicions(made)],
        counts=list(_positive(made)),
    )


def csv_rows(figures: YearFigures) -> Iterator[Sequence[str]]:
    """Every figure as a line of the file; percent with one decimal and a point."""
    for one in figures.all:
        shares = ("" if end is None else f"{end:.1f}" for end in (one.low, one.high))
        of = "" if one.of is None else str(one.of)
        yield (one.key, one.words, str(one.number), of, *shares, one.definition)


def share_range(number: int, of: int) -> tuple[float, float]:
    """The 95 % range (Wilson) of a share, in percent. Errors: ValueError for a share of nothing."""
    from scipy.stats import binomtest  # 0.7 s and 47 MB of every start, for one page a year

    found = binomtest(number, of).proportion_ci(LEVEL, method="wilson")
    return 100 * float(found.low), 100 * float(found.high)


def _figure(key: str, words: str, number: int, **more: Any) -> Figure:
    return Figure(key, words, number, say(DEFINITIONS[key.partition(":")[0]]), **more)


def _on_record(yards: "QuerySet[Yard]", end: dt.date) -> list[Figure]:
    colonies = Colony.objects.filter(yard__in=yards.values("pk"), started_on__lte=end)
    colonies = colonies.filter(Q(ended_on=None) | Q(ended_on__gt=end))
    told = yards.aggregate(yards=Count("pk"), keepers=Count("keeper", distinct=True))
    return [
        _figure("keepers", say("Registered keepers"), told["keepers"]),
        _figure("yards", say("Yards"), told["yards"]),
        _figure("colonies", say("Colonies on record"), colonies.count()),
    ]


def _visits(made: "QuerySet[Visit]") -> list[Figure]:
    told = made.aggregate(
        visits=Count("pk"),
        keepers=Count("yard__keeper", distinct=True),
        yards=Count("yard", distinct=True),
        present=Sum("colonies_present"),
        opened=Sum("colonies_opened"),
    )
    seen = VisitFinding.objects.filter(visit__in=made.values("pk")).aggregate(
        n=Count("colony", distinct=True)
    )
    return [
        _figure("visits", say("Visits"), told["visits"]),
        _figure("keepers_visited", say("Keepers visited"), told["keepers"]),
        _figure("yards_visited", say("Yards visited"), told["yards"]),
        _figure("present", say("Colonies present"), told["present"] or 0),
        _figure("opened", say("Colonies opened"), told["opened"] or 0),
        _figure("colonies_seen", say("Colonies with a finding"), seen["n"]),
    ]


def _after(made: "QuerySet[Visit]") -> list[Figure]:
    of_these = {"visit__in": made.values("pk")}
    orders = VisitOrder.objects.filter(**of_these).aggregate(n=Count("pk"), done=Count("done_on"))
    samples = LabSample.objects.filter(**of_these).aggregate(n=Count("pk"), answered=Count("result_on"))
    return [
        _figure("orders", say("Orders"), orders["n"]),
        _figure("orders_done", say("Orders done"), orders["done"], of=orders["n"]),
        _figure("lab_samples", say("Samples for a laboratory"), samples["n"]),
        _figure("answers", say("Answers of laboratories"), samples["answered"], of=samples["n"]),
    ]


def _findings(made: "QuerySet[Visit]") -> Iterator[Figure]:
    rows = list(
        VisitFinding.objects.filter(visit__in=made.values("pk")).values_list(
            *(aspect.name for aspect in ASPECTS)
        )
    )
    for place, aspect in enumerate(ASPECTS):
        codes = [row[place] for row in rows if row[place]]
        for code in aspect.codes:
            if code in codes:
                words = f"{say(aspect.heading)}: {code_words(aspect.name, code)}"
                key = f"finding:{aspect.name}:{code}"
                yield _figure(key, words, codes.count(code), of=len(codes))


def _suspicions(made: "QuerySet[Visit]") -> Iterator[Figure]:
    first = made.select_related("yard__club").first()
    rows = VisitSuspicion.objects.filter(visit__in=made.values("pk")).order_by("disease")
    counted = rows.values_list("disease").annotate(n=Count("visit__yard", distinct=True))
    for disease, number in counted:
        name = disease_of(first.yard.club, disease).name if first is not None else disease
        yield _figure(f"suspicion:{disease}", say("Suspected: {disease}", disease=name), number)


def _positive(made: "QuerySet[Visit]") -> Iterator[Figure]:
    rows = MiteSample.objects.standing().filter(visit__in=made.values("pk")).order_by("method")
    counted = rows.values_list("method").annotate(n=Count("pk"), positive=Count("pk", filter=Q(mites__gt=0)))
    for method, number, positive in counted:
        low, high = share_range(positive, number)
        words = say("{method}: counts with mites", method=str(METHOD_WORDS[Method(method)]))
        yield _figure(f"positive:{method}", words, positive, of=number, low=low, high=high)
