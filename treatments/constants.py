"""The tuning constants of treatments and outcomes, each with its mark and source. Pure.

A club may replace any of them (`dataclasses.replace`). What was used is stored with every outcome
(`Constants.as_stored`), so that an old page does not change silently when a default does.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from counts.constants import Constant, Mark, Tuned

METHOD_VERSION = "paired-ratio-1"
"""Name of the method behind every outcome; raised whenever a displayed number would change."""

_EMA = (
    "Dietemann et al. 2013, COLOSS BEEBOOK II varroa 4.5.4, citing EMA/CVMP/EWP/459883/2008: "
    "http://coloss.org/beebook/II/varroa/4/5/4"
)
_FECRT = (
    "AAEP internal parasite control guide, Interpretation of the FECRT, after the 2023 W.A.A.V.P. guideline "
    "(Kaplan et al.): https://pubs.aaep.org/0A4370h/InternalParaGuide/html/14.html"
)
_DISPERSAL = (
    "Huang, Varroa Mite Reproductive Biology, Michigan State University: 5-11 days on bees with brood, "
    "https://studylib.net/doc/7519987/varroa-mite-reproductive-biology; the middle is our choice"
)
_REINVASION = (
    "Frey & Rosenkranz 2014, J. Econ. Entomol. (doi 10.1603/EC13381), abstract: 266-1171 mites a colony in 3.5 "
    "months among many bees, 72-248 among few; per bee it is our choice"
)
_GROWTH = (
    "derived from Kraus & Page 1995 (300-fold in a year: 0.0156 a day) and from Varroa jacobsoni Oud. in "
    "cold climates (Finland, 8.2-24.6-fold: 0.0174-0.0247 a day over 150 days), abstracts"
)
_DEPTH = "lead-acid batteries are planned with half of their depth; 50-80 % is told"
_PEUKERT = "table of typical exponents, https://utilitiesbunker.com/kb/peukert-law"

_PEUKERT_AGM = (
    "AGM lead-acid 1.05-1.2: pages on Peukert's law, https://cal57.calculator.city and "
    "https://utilitiesbunker.com/kb/peukert-law; towards the upper end is our choice"
)


def _choice(value: float, note: str, sd: float = 0.0) -> Constant:
    return Constant(value, Mark.CHOICE, note, sd)


def _practice(value: float, note: str) -> Constant:
    return Constant(value, Mark.COMMON_PRACTICE, note)


@dataclass(frozen=True, slots=True)
class Constants(Tuned):
    """All tuning constants of this app. Drops and shares are parts of 1; `c2` are squared CVs."""

    level: Constant = Constant(0.90, Mark.SOURCE, _FECRT)
    target_synthetic: Constant = Constant(0.95, Mark.SOURCE, _EMA)
    target_other: Constant = Constant(0.90, Mark.SOURCE, _EMA)
    floor_below_target: Constant = _choice(0.10, "grey zone under the target, after the W.A.A.V.P. rule")

    jar_c2: Constant = Constant(
        0.0536, Mark.COMPUTED, "bee count 10 % and scoop 20 % (common practice, no source), recovery 5.5 %"
    )
    between_colonies_c2: Constant = _choice(0.25, "survivors differ among colonies; checked in simulations")
    between_colonies_weight: Constant = _choice(4.0, "weight of that prior, in colonies; from simulations")
    learn_from_after: Constant = _choice(10, "mites after, from which the counts say how colonies differ")
    start_c2: Constant = _choice(0.8, "starting rates differ among colonies; for counts after without before")
    mites_before_min: Constant = _choice(5, "fewer mites before give no answer at all; from simulations")
    jar_bees_min: Constant = _choice(50, "fewer bees give no estimate")

    board_day_cv: Constant = Constant(0.30, Mark.COMMON_PRACTICE, "drop from day to day")
    board_grid_cv: Constant = Constant(
        0.095,
        Mark.SOURCE,
        "Ostiguy & Sammataro 2000, A simplified technique for counting Varroa jacobsoni Oud. on sticky "
        "boards, Apidologie, abstract: a third of the cells, mean error 0.4 +/- 9.5 %",
    )
    board_days_min: Constant = _choice(0.5, "shorter boards give no estimate")

    growth_per_day: Constant = Constant(0.020, Mark.COMPUTED, _GROWTH, 0.006)
    growth_per_day_min: Constant = _choice(0.001, "slower growth is never reckoned with")
    arrivals_per_bee: Constant = Constant(
        0.0, Mark.CHOICE, "mites from elsewhere a day, per bee; " + _REINVASION
    )
    outlook_early: Constant = _choice(0.10, "chance by which the earliest day of an outlook is passed")
    outlook_days_max: Constant = _choice(120, "nothing is foretold beyond")
    outlook_sample_days_max: Constant = _choice(30, "older counts say nothing of what comes")

    capped_days: Constant = _practice(12, "days a worker cell is capped")
    capped_from_day: Constant = Constant(
        9,
        Mark.COMPUTED,
        "day after laying on which a worker cell is capped: 21 days of brood (COLOSS BEEBOOK II, varroa 4.2.2) "
        "less 12 days capped",
    )
    dispersal_days: Constant = Constant(7.0, Mark.SOURCE, _DISPERSAL)
    dispersal_days_short: Constant = _choice(4.0, "the least lucky case: most mites under cappings")
    dispersal_days_long: Constant = _choice(10.0, "the luckiest case: most mites on bees")
    mites_die_per_day: Constant = _choice(0.006, "of those on bees, without a treatment")
    kill_low: Constant = _choice(0.3, "share of the mites on bees that a round kills, at worst")
    kill_brood: Constant = _choice(0.6, "the same, expected with brood")
    kill_broodless: Constant = _choice(0.95, "the same, expected without brood")
    kill_high: Constant = _choice(0.9, "the same, at best, with brood")
    first_warm_days: Constant = Constant(
        3,
        Mark.SOURCE,
        "days on which the higher limit for formic acid strips holds: UK pack text, formic acid 68.2 g strip, "
        "doczz.net/doc/2472508",
    )
    brood_seen_days_max: Constant = _choice(14, "brood looked at longer ago counts as not known")
    recount_after_days: Constant = _choice(14, "a capped period and two days; sooner, a jar shows too much")

    days_between_max: Constant = _choice(180, "over longer, growth and reinvasion cannot be corrected for")
    before_count_days: Constant = _choice(35, "a before-count is at most so many days before the first dose")
    after_count_late_days: Constant = _choice(
        28, "later than so long after the latest day, counts tell of regrowth"
    )

    spare_share: Constant = _choice(0.10, "spare to bring on a treatment day")

    carry_minutes: Constant = _choice(1, "a person carries a heater to the next hive")
    set_up_minutes: Constant = _choice(2, "a person fits the heater, closes the hive, switches on")
    draw_minutes: Constant = _choice(1, "a person draws the heater and seals the entrance again")
    open_minutes: Constant = _choice(1, "a person opens one hive")
    wait_before_drawing_minutes: Constant = _practice(5, "from the end of the heating until it is drawn")
    sealed_minutes: Constant = _practice(15, "a hive stays shut after the last vapour; 10-15 is told")

    battery_usable_share: Constant = _practice(0.5, _DEPTH)
    peukert_flooded: Constant = Constant(1.2, Mark.SOURCE, "flooded lead-acid 1.2-1.3: " + _PEUKERT)
    peukert_agm: Constant = Constant(1.15, Mark.SOURCE, _PEUKERT_AGM)
    peukert_none: Constant = _choice(1, "lithium: no loss at high currents is reckoned with")
    lithium_usable_share: Constant = _choice(0.8, "a fifth in hand; the maker's sheet may allow more or less")
    battery_rated_hours: Constant = _practice(
        20, "hours at which the printed capacity of a lead battery holds"
    )

    version: str = field(default=METHOD_VERSION)


DEFAULTS = Constants()
