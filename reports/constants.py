"""The tuning constants of the regional figures, each with its mark and source. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

from counts.constants import Constant, Mark, Tuned

METHOD_VERSION = "pooled-yards-2"
"""Name of the method behind every regional figure; raised whenever a displayed number would change."""


def _choice(value: float, note: str) -> Constant:
    return Constant(value, Mark.CHOICE, note)


def _practice(value: float, note: str) -> Constant:
    return Constant(value, Mark.COMMON_PRACTICE, note)


@dataclass(frozen=True, slots=True)
class Constants(Tuned):
    """All tuning constants of this app. `c2` are squared CVs."""

    level: Constant = _practice(0.95, "two-sided level of every range")
    yards_c2: Constant = _choice(0.6, "how yards of a region differ, before it is known; from simulations")
    yards_weight: Constant = _choice(6.0, "weight of that prior, in yards; from simulations")
    yards_c2_min: Constant = _choice(0.05, "yards never count as more alike than this")
    yards_c2_max: Constant = _choice(6.0, "nor as less alike than this")
    own_yards_min: Constant = _choice(5, "fewer yards are pooled with the same month of all regions")
    keeper_likeness: Constant = _choice(0.3, "how alike the yards of one keeper are; from simulations")

    regions_c2: Constant = _choice(0.2, "how regions of a month differ, before it is known; from simulations")
    regions_weight: Constant = _choice(4.0, "weight of that prior, in regions; from simulations")
    regions_c2_min: Constant = _choice(0.02, "regions never count as more alike than this")

    treated_lately_days: Constant = _choice(42, "a yard treated within these days is told apart")
    treated_before_days: Constant = _choice(183, "and one treated within these from one that was not")

    past_sd: Constant = _choice(0.4, "year-to-year sd of a region's month, log scale, before it is known")
    past_weight: Constant = _choice(6.0, "weight of that prior, in years; from simulations")
    past_years_min: Constant = _choice(3, "fewer past years say nothing about an unusual one")
    unusual_below: Constant = _choice(0.025, "chance below which a month is called unusual")

    trend_years_min: Constant = Constant(
        6, Mark.COMPUTED, "fewer years are shown, not tested; power from simulations"
    )
    trend_years_full: Constant = Constant(
        10,
        Mark.SOURCE,
        "USGS SIR 2005-5275, sample output: the corrected p is for more than 10 years "
        "(https://pubs.usgs.gov/sir/2005/5275/downloads/SK1c_out.txt)",
    )
    trend_below: Constant = _practice(0.05, "p below which a trend is called one")

    keepers_min: Constant = _practice(3, "rule of small counts, as statistical offices use it")
    yards_min: Constant = _practice(5, "rule of small counts")
    keepers_outside_min: Constant = _practice(5, "rule of small counts, for people outside the club")
    largest_share_max: Constant = _practice(
        0.60, "rule of dominance: no keeper has more of the yards than this"
    )

    drop_level: Constant = _practice(0.90, "level of a pooled drop's range: that of each treatment's own")
    tried_yards_min: Constant = _choice(20, "fewer yards to compare with give no early warning")
    short_min: Constant = _choice(3, "fewer keepers whose yards fell short give no early warning")
    season_likeness: Constant = _choice(
        0.05, "how alike yards of one region and season are in falling short; weather, brood, neighbours"
    )
    warn_below: Constant = _choice(
        0.025, "chance below which an early warning is shown, shared among a season's looks; from simulations"
    )

    uncertain_width: Constant = Constant(
        1.6,
        Mark.SOURCE,
        "a range wider than this many times its figure is marked uncertain: NCHS standards for rates, as summarised at "
        "https://stacks.cdc.gov/view/cdc/123462",
    )
    uncertain_yards: Constant = Constant(
        10,
        Mark.SOURCE,
        "and so is a figure of fewer effective yards: the same standards, likewise",
    )
    map_years: Constant = _choice(
        2, "calendar years, with the present one, for which the map is kept in pieces"
    )
    share_bare_yards: Constant = _choice(
        20, "of fewer yards a share of 0 or 100 % is told as its range's end"
    )

    version: str = field(default=METHOD_VERSION)


DEFAULTS = Constants()
