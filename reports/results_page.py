"""What the page Treatment results shows: a row for each ingredient and way, and what was found unusual."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from apiaries.language import listed, mark, say
from apiaries.models import Club, Region
from apiaries.zones import zone_of
from reports.early_warning import Look, early_warnings
from reports.forms import TreatmentResultsForm
from reports.kinds import HIDDEN_WORDS
from reports.pressure import count_band
from reports.results_headline import Said, headline, lies_below
from reports.treated_facts import known_of
from reports.treatment_results import PooledDrop, ResultRow, result_rows
from treatments.ingredients import Ingredient, target_drop
from treatments.outcome import Drop, Verdict
from treatments.sentences import per_cent, range_words
from treatments.ways import INGREDIENT_WORDS

GUARDS_WORDS = mark("hidden so that another region cannot be worked out from it")

ALWAYS = (Verdict.WORKED, Verdict.FELL_SHORT, Verdict.DID_NOT_WORK, Verdict.CANNOT_TELL)
SOMETIMES = (Verdict.TOO_EARLY, Verdict.NO_BEFORE_COUNT)
VERDICTS_INSIDE = {
    Verdict.WORKED: mark("worked"),
    Verdict.FELL_SHORT: mark("fell short"),
    Verdict.DID_NOT_WORK: mark("did not work"),
    Verdict.CANNOT_TELL: mark("can't tell yet"),
    Verdict.TOO_EARLY: mark("too early"),
    Verdict.NO_BEFORE_COUNT: mark("no before-count"),
}
"""Behind a number of treatments."""

CONFOUNDERS = (
    mark("Brood and timing: mites under cappings are out of reach of most treatments, and come out later."),
    mark(
        "Dose and temperature: too little, too cold or too hot, strips out too early, rounds too far apart."
    ),
    mark("Mites from elsewhere: colonies near by that were not treated, or later, send mites over."),
    mark("Counts: made too early, too late, or in small samples."),
    mark("Counts that are missing: who lost colonies, or was content, counts again less often."),
    mark("Colonies chosen for their high counts: such counts fall by themselves, whatever is done."),
    mark("One keeper's yards are alike: the same day, the same hand, the same pack."),
    mark("The ingredient: mites can bear it better where it was used year after year."),
)
"""What else moves these figures (common practice, no source)."""

NEXT_STEPS = (
    mark(
        "Count the same colonies again, a wash of about 300 bees each, if the days of the recount allow it."
    ),
    mark("Look at the label once more: dose, days, temperature, brood, supers."),
    mark("Give nothing more, and nothing stronger, than the label allows."),
    mark(
        "Ask your inspector, a veterinarian or another licensed adviser before you treat with it again, and tell them "
        "these counts. They know where to send mites or bees to have it looked into."
    ),
)

ALL_TOLD = mark(
    "{where}: {short} of the {yards} yards that gave a clear answer, of {keepers} keepers. In earlier seasons: {usual}."
)
ONE_TOLD = mark(
    "{where}: {short} of the {yards} yards that gave a clear answer, of {keepers} keepers. In earlier seasons and "
    "other regions: {usual}."
)


@dataclass(frozen=True)
class Told:
    """How many treatments got one word."""

    key: str
    words: str
    number: int


@dataclass(frozen=True)
class Line:
    """One ingredient and way."""

    row: ResultRow
    warned: bool

    @property
    def hidden(self) -> str:
        """Why nothing is shown; empty where something is."""
        if self.row.reason is not None:
            return say(HIDDEN_WORDS[self.row.reason])
        return say(GUARDS_WORDS) if self.row.guards_others else ""

    @property
    def untold(self) -> str:
        """Why no words and no drop are shown of a row that is."""
        reason = self.row.counted_reason
        return "" if reason is None else say(HIDDEN_WORDS[reason])

    @property
    def drop(self) -> str:
        return per_cent(self.pooled.drop) if self.pooled else ""

    @property
    def drop_range(self) -> str:
        pooled = self.pooled
        return range_words(Drop(pooled.drop, pooled.low, pooled.high)) if pooled else ""

    @property
    def pooled(self) -> PooledDrop | None:
        return self.row.pooled if self.row.is_told else None

    @property
    def target(self) -> str:
        """The published target of the ingredient; empty where none is published."""
        target = target_drop(Ingredient(self.row.ingredient))
        return per_cent(target.value) if target else ""

    @property
    def is_below(self) -> bool:
        """Whether the whole range of the drop lies below the published target: no comparison with others is needed."""
        return lies_below(self.row)

    @property
    def words(self) -> list[Told]:
        """The four answers always, so that none of a kind is told too; the others where there are any."""
        found = self.row.words
        judged = ALWAYS if sum(found.values()) > found.get(None, 0) else ()
        keys = [*judged, *(key for key in SOMETIMES if found.get(key))]
        told = [Told(key.value, say(VERDICTS_INSIDE[key]), found.get(key, 0)) for key in keys]
        if found.get(None):
            told.append(Told("none", say("without a published target, so no word"), found[None]))
        return told


@dataclass(frozen=True)
class Warned:
    """An early warning in words: one for an ingredient, with a line for each place where it showed."""

    ingredient: str
    lines: Sequence[str]


@dataclass(frozen=True)
class Results:
    """The page."""

    season: int
    region: Region | None
    ingredient: str
    lines: Sequence[Line]
    headline: Sequence[Said]
    """What the table says, in a sentence for each way."""
    warnings: Sequence[Warned]
    looked: int
    read_at: dt.datetime

    @property
    def has_any(self) -> bool:
        return bool(self.lines)

    @property
    def below(self) -> str:
        """The ways whose whole range lies below the target, by name."""
        return listed([one.way for one in self.headline if one.below])

    @property
    def asks_for_steps(self) -> bool:
        """Whether something fell short, in more yards than before or as a whole."""
        return bool(self.warnings) or any(line.is_below for line in self.lines)


def results_page(
    club: Club, form: TreatmentResultsForm, *, zone: str, on: dt.date, at: dt.datetime
) -> Results:
    """What is shown of what was asked for. A filter picks rows; it never changes what is in them."""
    season, region, ingredient = form.season_asked, form.region_asked, form.ingredient_asked
    known = known_of(club, on=on, at=at)
    rows = result_rows(known.facts, season)
    looks = [
        look
        for look in early_warnings(known.facts, season)
        if ingredient in ("", look.ingredient) and (region is None or look.region in (None, region.pk))
    ]
    names = {one.pk: one.name for one in form.by_key.values()}
    warning = [look for look in looks if look.warns]
    place = region.pk if region else None
    picked = [row for row in rows if row.region == place and ingredient in ("", row.ingredient)]
    lines = [
        Line(replace(row, name=say(row.name)), any(one.ingredient == row.ingredient for one in warning))
        for row in sorted(picked, key=lambda row: (list(INGREDIENT_WORDS).index(row.ingredient), row.name))
    ]
    return Results(
        season=season,
        region=region,
        ingredient=say(INGREDIENT_WORDS.get(ingredient, "")),
        lines=lines,
        headline=headline(rows, place, ingredient, names),
        warnings=_warnings(sorted(warning, key=lambda look: look.region != place), rows, names),
        looked=len(looks),
        read_at=known.read_at.astimezone(zone_of(zone)),
    )


def _warnings(looks: Sequence[Look], rows: Sequence[ResultRow], names: Mapping[int, str]) -> list[Warned]:
    found: dict[str, list[str]] = {}
    for look in looks:
        found.setdefault(look.ingredient, []).append(_told(look, rows, names))
    return [Warned(say(INGREDIENT_WORDS[ingredient]), lines) for ingredient, lines in found.items()]


def _told(look: Look, rows: Sequence[ResultRow], names: Mapping[int, str]) -> str:
    """The line of one place. Without a number where one could give a hidden row away."""
    where = say("All regions together") if look.region is None else names.get(look.region) or say("A region")
    own = [row for row in rows if (row.ingredient, row.region) == (look.ingredient, look.region)]
    if not all(row.is_told for row in own):
        return say(
            "{where}: unusually many. Numbers are left out, so that no yard can be told from them.",
            where=where,
        )
    return say(
        ALL_TOLD if look.region is None else ONE_TOLD,
        where=where,
        short=look.short,
        yards=look.yards,
        keepers=look.keepers,
        usual=_usual(look),
    )


def _usual(look: Look) -> str:
    """The share to expect with its range; the yards behind it as a band, so that nothing can be taken off."""
    low, high = int(look.usual_low * 100), -int(-look.usual_high * 100 // 1)
    return say(
        "about {share} of yards (range {low} to {high} %, from {yards} yards)",
        share=per_cent(look.usual),
        low=low,
        high=high,
        yards=count_band(look.compared),
    )
