"""The reference files in fixtures/: every line sourced and marked, levels that parse, pages that are current."""

from __future__ import annotations

import csv
import importlib.util
import itertools
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FILES = [
    "action_levels",
    "bees_per_measure",
    "applications",
    "dated_limits",
    "cautions",
    "record_rules",
    "method_cards",
    "visit_rules",
    "notifiable",
]
PRACTICE = "common practice, no source"
WORDS = {PRACTICE, "from memory", "from memory, weak"}
MARKS = WORDS | {"published", "calculated"}
BAND_NAMES = ["ok", "watch", "act", "at_once", "lost"]


def rows(name: str) -> list[dict[str, str]]:
    with (ROOT / "fixtures" / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


CITATIONS = {f"{r['citation']}, {r['address']}" for r in rows("sources")}
LEVELS = {r["key"]: r for r in rows("action_levels")}
WAYS = {r["key"]: r for r in rows("applications")}
EVERY_ROW = [
    pytest.param(name, row, id=f"{name}-{i}") for name in FILES for i, row in enumerate(rows(name), 2)
]


def bands(text: str) -> list[tuple[str, float, float]]:
    """Name, lower and upper limit of each band; the last may be open."""
    parts = re.findall(r"([a-z_]+):([\d.]+)-([\d.]*)", text)
    assert ";".join(f"{n}:{low}-{high}" for n, low, high in parts) == text
    return [(n, float(low), float(high or "inf")) for n, low, high in parts]


def band_of(key: str, rate: float) -> str:
    """The band a rate falls in by the rules of fixtures/README.md; "undefined" in a published gap."""
    row = LEVELS[key]

    def stays_below(limit: float) -> bool:
        act_at = float(row["act_at"] or "inf")
        return limit > act_at or (limit == act_at and row["act_inclusive"] == "false")

    for name, low, high in bands(row["bands"]):
        starts = rate > low or (rate == low and not stays_below(low))
        ends = rate < high or (rate == high and stays_below(high))
        if starts and ends:
            return name
    return "undefined"


@pytest.mark.parametrize(("name", "row"), EVERY_ROW)
def test_row_has_source_mark_and_way_of_reading(name, row):
    assert row["mark"] in MARKS
    assert row["source"] and row["read_as"]
    assert re.fullmatch(r"(\d{4})?", row["year"])
    assert None not in row and None not in row.values(), "a line with too many or too few fields"


@pytest.mark.parametrize(("name", "row"), EVERY_ROW)
def test_source_is_listed_with_its_address(name, row):
    parts = set(row["source"].split(" | "))
    assert parts <= CITATIONS | WORDS
    if row["mark"] == "published":
        assert parts & CITATIONS, "published, but no published source named"
    if row["mark"] in WORDS:
        assert row["mark"] in parts, "the source must not look better than the mark"


@pytest.mark.parametrize("name", [*FILES, "sources"])
def test_text_has_no_brand_sign_and_no_bare_source_code(name):
    text = (ROOT / "fixtures" / f"{name}.csv").read_text(encoding="utf-8")
    assert not re.search("[®™©]", text)
    assert not re.search(r"\bS\d+\b", text)


@pytest.mark.parametrize("name", ["action_levels", "bees_per_measure", "applications", "cautions", "sources"])
def test_keys_are_unique(name):
    keys = [row["key"] for row in rows(name)]
    assert sorted(set(keys)) == sorted(keys)


def test_every_source_is_used():
    used = {part for name in FILES for row in rows(name) for part in row["source"].split(" | ")}
    used |= {part for row in WAYS.values() for part in row["recount_source"].split(" | ")}
    assert CITATIONS - used == set()


@pytest.mark.parametrize("row", LEVELS.values(), ids=LEVELS.keys())
def test_level_has_ordered_bands_without_overlap(row):
    found = bands(row["bands"])
    order = [BAND_NAMES.index(name) for name, _, _ in found]
    assert order == sorted(set(order))
    assert all(low < high for _, low, high in found)
    gaps = [b[1] - a[2] for a, b in itertools.pairwise(found)]
    assert all(gap >= 0 for gap in gaps)
    if any(gap > 0 for gap in gaps):
        assert "undefined" in row["note"] or "say nothing" in row["note"]


@pytest.mark.parametrize("row", LEVELS.values(), ids=LEVELS.keys())
def test_level_acts_where_its_first_act_band_starts(row):
    starts = [low for name, low, _ in bands(row["bands"]) if name == "act"]
    if row["act_at"]:
        assert starts == [float(row["act_at"])]
        assert row["act_inclusive"] in {"true", "false"}
    else:
        assert starts == [] and row["act_inclusive"] == "" and "cut off" in row["note"]


@pytest.mark.parametrize("row", LEVELS.values(), ids=LEVELS.keys())
def test_level_has_known_words_and_months(row):
    assert row["kind"] in {"jar", "board", "drone_brood"}
    assert row["brood"] in {"", "none", "some_or_plenty"}
    jar = {"per_100_bees", "per_10_g", "per_50_g"}
    units = {"jar": jar, "board": {"per_day", "per_2_days"}, "drone_brood": {"percent_cells"}}
    assert row["unit"] in units[row["kind"]]
    assert bool(row["from_month"]) == bool(row["to_month"])
    assert {row["from_month"], row["to_month"]} <= {"", *map(str, range(1, 13))}


def test_derived_levels_are_half_of_the_published_two_days():
    derived = [row for row in LEVELS.values() if row["derived_from"]]
    assert len(derived) == 4
    for row in derived:
        published = LEVELS[row["derived_from"]]
        assert row["mark"] == "calculated" and published["unit"] == "per_2_days"
        assert float(row["act_at"]) * 2 == float(published["act_at"])


@pytest.mark.parametrize(
    ("key", "rate", "expected"),
    [
        # Kontrolle Milbenfall, German club practice sheet: under 5 fine, 5-10 watch, over 10 treat, over 30 lost
        ("de_club_practice_jul_board", 4, "ok"),
        ("de_club_practice_jul_board", 5, "watch"),
        ("de_club_practice_jul_board", 7, "watch"),
        ("de_club_practice_jul_board", 10, "watch"),
        ("de_club_practice_jul_board", 12, "act"),
        ("de_club_practice_jul_board", 30, "act"),
        ("de_club_practice_jul_board", 31, "lost"),
        # Bienenkrankheiten, German club page, per 50 g of bees in July: 5 to 25 soon, over 25 at once
        ("de_club_practice_jul_jar", 4.9, "ok"),
        ("de_club_practice_jul_jar", 5, "act"),
        ("de_club_practice_jul_jar", 25, "act"),
        ("de_club_practice_jul_jar", 26, "at_once"),
        # Chambre d'Agriculture d'Alsace, May-June: under 2, 4 to 8, over 8
        ("fr_alsace_may_jun", 1.9, "ok"),
        ("fr_alsace_may_jun", 3, "undefined"),
        ("fr_alsace_may_jun", 8, "watch"),
        # GDSA Creuse, midsummer: more than 32 in 2 days; Germany would act on the same 12 a day
        ("fr_creuse_midsummer_2_days", 24, "ok"),
        ("fr_creuse_midsummer", 12, "ok"),
        ("fr_creuse_midsummer", 16.5, "act"),
        # Bavaria LWG, by a course page: more than 1 per 10 g soon, more than 4 at once
        ("de_by_lwg_jul_jar", 1, "ok"),
        ("de_by_lwg_jul_jar", 4.2, "at_once"),
        # NSW DPI Primefact, by a press copy: fewer than 3 a wash, next class 3 to 5 (300 bees)
        ("au_nsw_dpi_broodless", 2 / 3, "ok"),
        ("au_nsw_dpi_broodless", 1.0, "watch"),
        ("au_nsw_dpi_broodless", 5 / 3, "watch"),
        ("au_nsw_dpi_broodless", 2.0, "undefined"),
        # USDA-ARS Tucson: 3; University of Florida: more than 3
        ("us_usda_ars_tucson_jar", 3, "act"),
        ("us_univ_florida_jar", 3, "ok"),
    ],
)
def test_level_says_what_was_published(key, rate, expected):
    assert band_of(key, rate) == expected


@pytest.mark.parametrize("row", WAYS.values(), ids=WAYS.keys())
def test_way_has_a_recount_window_in_order(row):
    days = [int(row[f"recount_{when}_days"]) for when in ("earliest", "ideal", "latest")]
    # BEEBOOK, assessment of efficacy: at least 14 days after the end of a treatment
    assert 14 <= days[0] <= days[1] <= days[2]
    assert row["recount_kind"] in {"jar", "board", "either"}
    assert row["recount_reason"].endswith(".")
    assert row["recount_mark"] in {"published", PRACTICE, "own choice"}
    assert row["recount_latest_mark"] == "own choice"
    assert set(row["recount_source"].split(" | ")) <= CITATIONS | {PRACTICE, "own choice"}


@pytest.mark.parametrize("row", WAYS.values(), ids=WAYS.keys())
def test_way_has_known_words_and_ordered_limits(row):
    assert row["jurisdiction"] in {"US", "CA", "GB", "EU", "DE", "FR", "CH", "any"}
    assert row["supers"] in {"off", "allowed", "label_decides"}
    assert row["brood"] in {"only_without", "best_without", "needed", "any"}
    assert (row["brood"] == "only_without") == bool(
        re.search("(only|once,) without brood", row["brood_note"])
    )
    synthetic = {"amitraz", "flumethrin", "tau_fluvalinate", "coumaphos"}
    assert row["is_synthetic"] == str(row["ingredient"] in synthetic).lower()
    assert int(row["rounds_default"]) >= 1
    for low, high in (("min_temp_c", "max_temp_c"), ("stays_in_days", "stays_in_days_max")):
        assert not row[high] or float(row[low]) <= float(row[high])
    assert not row["dose_amount"] or row["dose_unit"]
    for day in ("valid_from", "valid_to"):
        assert re.fullmatch(r"(\d{4}-\d{2}-\d{2})?", row[day])


def test_withdrawal_is_zero_only_where_published():
    zero = {key for key, row in WAYS.items() if row["withdrawal_days"]}
    # UK and EU texts of the formic acid strip; leaflets of the flumethrin strip: 0 days
    assert zero == {f"formic_gel_strip_{n}" for n in ("gb", "eu", "de")} | {
        f"flumethrin_strip_{n}" for n in ("eu", "gb")
    }
    assert {WAYS[key]["withdrawal_days"] for key in zero} == {"0"}


def test_every_limit_belongs_to_a_way():
    assert {row["application"] for row in rows("dated_limits")} <= WAYS.keys()


@pytest.mark.parametrize("row", rows("bees_per_measure"), ids=lambda row: row["key"])
def test_measure_gives_the_bees_it_says(row):
    assert int(row["bees"]) > 0 and (row["millilitres"] or row["grams"])
    if row["millilitres"]:
        assert float(row["bees_per_ml"]) == pytest.approx(
            int(row["bees"]) / float(row["millilitres"]), abs=0.006
        )
    if row["grams"]:
        assert float(row["grams_per_bee"]) == pytest.approx(
            float(row["grams"]) / int(row["bees"]), abs=0.0006
        )


def load_make_tables():
    spec = importlib.util.spec_from_file_location(
        "make_tables", ROOT / "docs" / "reference" / "make_tables.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_reference_pages_are_current():
    assert load_make_tables().stale() == []


def test_stale_page_is_named(tmp_path):
    tables = load_make_tables()
    for name, page in tables.PAGES.items():
        (tmp_path / name).write_text(page(), encoding="utf-8")
    (tmp_path / "sources.md").write_text("old", encoding="utf-8")
    assert tables.stale(tmp_path) == ["sources.md"]


@pytest.mark.parametrize(
    ("key", "limit", "source"),
    [
        # facts.md section 5: NIOSH PEL project for oxalic acid; NIOSH IDLH documentation for formic acid
        ("vapour_air", "1 mg per cubic metre", "cdc.gov/niosh/pel88/144-62.html"),
        ("formic_air", "5 ppm, and 30 ppm", "cdc.gov/niosh/idlh/64186"),
        ("oxalic_swallowed", "5 g has killed", "icsc/eics0707"),
    ],
)
def test_cautions_name_the_limit_with_its_source(key, limit, source):
    (row,) = [one for one in rows("cautions") if one["key"] == key]
    assert limit in row["sentence"]
    assert source in row["source"]
