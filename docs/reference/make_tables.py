"""Write the reference pages from the files in fixtures/, so that a page can never say something else.

.venv/bin/python docs/reference/make_tables.py            writes the pages
.venv/bin/python docs/reference/make_tables.py --check    exits 1 and names the stale ones
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterable
from pathlib import Path

Row = dict[str, str]
Columns = dict[str, Callable[[Row], str]]
Pages = dict[str, Callable[[], str]]

HERE = Path(__file__).resolve().parent
FIXTURES = HERE.parents[1] / "fixtures"
MONTHS = ["", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
UNITS = {
    "per_100_bees": "mites per 100 bees",
    "per_10_g": "mites per 10 g of bees",
    "per_50_g": "mites per 50 g of bees",
    "per_day": "drop per day",
    "per_2_days": "drop per 2 days",
    "percent_cells": "% of drone cells",
}
KINDS = {"jar": "Washes and rolls", "board": "Boards", "drone_brood": "Drone brood"}
BAND_WORDS = {"ok": "below", "watch": "watch", "act": "act", "at_once": "act at once", "lost": "colony lost"}

EDIT_NOTE = "<!-- Written by make_tables.py from the files in fixtures/: edit those, then run it again. -->"
ABOUT_LEVELS = """\
Published rates at which their issuers advise acting. They disagree, and Recount does not average them: a club
chooses one issuer's set, and the page of a count names the issuer. A gap between two bands is a gap in the
published table. At the exact limit, *Act at* decides.

Looked for and not found: numbers for New Zealand, and the rest of the New South Wales table."""
ABOUT_WAYS = """\
An active ingredient, a way of giving it, and the country whose label it follows. **The label in your hand
decides.** These lines are dated and some are from memory; a dash means that the label says. The latest day of
every recount is our own choice."""
ABOUT_MEASURES = """\
How many bees a measure holds. The sources disagree (half a cup is 300 or 400), so every count keeps the
assumption it was made with. Counting the bees beats both weighing and measuring."""
ABOUT_RECORD = """\
What the rules of the European Union, the United Kingdom and the United States ask of a record of medicines, as far
as we could read them. Recount has a box for all of it and marks what the rules of the club's country ask for and
nobody has filled in; for a country without lines of its own it marks what any of them asks for. A line with *only if*
is never marked as missing. **Your own country decides**; ask your inspector where this page and they differ.

Where no term is listed, Recount names none: keep the record as your country or state says."""
ABOUT_VISITS = """\
A club chooses one of the rules, or sets numbers of its own; while it chose none, every colony is to be opened (our
choice). Parts of a colony are rounded up. A suspicion is never a diagnosis: the authority and its laboratory decide.
Countries that are not in the second table have no list here, and the pages of a visit say so."""
ABOUT_SOURCES = """\
Where the lines in `fixtures/` come from. *How read* says how much of it was seen: many were read as an opening,
an abstract or a quotation, not whole. A year is the year of publication where it was given."""

REGIMES = {"eu": "European Union", "gb": "United Kingdom", "us": "United States", "au": "Australia"}
ENTRIES = {"use": "Use", "purchase": "Purchase", "disposal": "Disposal", "all": "How long it is kept"}


def rows(name: str) -> list[Row]:
    """The lines of a reference file."""
    with (FIXTURES / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def field(name: str) -> Callable[[Row], str]:
    """A column as it stands in the file, with spaces for underscores in a single word of the program."""
    return lambda row: row[name] if " " in row[name] else row[name].replace("_", " ")


def key(row: Row) -> str:
    """The key, exactly as in the file."""
    return row["key"]


def source_links(row: Row) -> str:
    """The sources of one line as links into sources.md; words that are no citation stay as they are."""
    keys = {f"{s['citation']}, {s['address']}": s["key"] for s in rows("sources.csv")}
    parts = row["source"].split(" | ")
    return ", ".join(f"[{keys[part]}](sources.md#{keys[part]})" if part in keys else part for part in parts)


SOURCED: Columns = {
    "Mark": field("mark"),
    "Year": field("year"),
    "Source": source_links,
    "Note": field("note"),
}


def table(columns: Columns, lines: Iterable[Row]) -> str:
    """A Markdown table; a bar inside a cell is escaped and an empty cell becomes a dash."""
    out = [list(columns), ["---"] * len(columns)]
    out += [[cell(line).replace("|", "\\|") or "–" for cell in columns.values()] for line in lines]
    return "\n".join("| " + " | ".join(line) + " |" for line in out)


def page(*parts: str) -> str:
    """A whole page with the note that it is written by a script."""
    return "\n\n".join([EDIT_NOTE, *parts]) + "\n"


def season(row: Row) -> str:
    """The months and conditions under which a level holds, in words."""
    first, last = row["from_month"], row["to_month"]
    months = MONTHS[int(first)] if first else "any month"
    if first != last:
        months += f" to {MONTHS[int(last)]}"
    brood = {"none": "no brood", "some_or_plenty": "with brood"}.get(row["brood"], "")
    return ", ".join(part for part in (months, row["only_when"] or brood) if part)


def bands_in_words(row: Row) -> str:
    """Bands as published; what lies between two bands is not defined by the issuer."""
    out = []
    for band in row["bands"].split(";"):
        name, limits = band.split(":")
        low, high = limits.split("-")
        out.append(f"{BAND_WORDS[name]}: {low} to {high}" if high else f"{BAND_WORDS[name]}: {low} and up")
    return "; ".join(out)


def act_in_words(row: Row) -> str:
    """The rate at which the issuer advises acting; "not published" where the part read gives none."""
    if not row["act_at"]:
        return "not published"
    return f"{row['act_at']} or more" if row["act_inclusive"] == "true" else f"more than {row['act_at']}"


def span(low: str, high: str, unit: str) -> str:
    """One or two numbers with their unit, or nothing."""
    if low and high and low != high:
        return f"{low} to {high} {unit}"
    return f"{low} {unit}" if low else ""


def stays_in(row: Row) -> str:
    """How long the dose of one round stays in the hive; nothing where it does not stay or the label decides."""
    return "" if row["stays_in_days"] == "0" else span(row["stays_in_days"], row["stays_in_days_max"], "days")


def temperature(row: Row) -> str:
    """The window of outside temperature, as far as it was published."""
    low, high = row["min_temp_c"], row["max_temp_c"]
    return f"from {low} °C" if low and not high else span(low, high, "°C")


def recount_in_words(row: Row) -> str:
    """When to recount, counted from the last day of the treatment."""
    window = f"{row['recount_earliest_days']} to {row['recount_latest_days']} days after"
    return (
        f"{window}, best on day {row['recount_ideal_days']}. {row['recount_reason']} ({row['recount_mark']})"
    )


def dose(row: Row) -> str:
    """The dose with its unit in words; nothing where the label decides."""
    return f"{row['dose_amount']} {row['dose_unit'].replace('_', ' ')}" if row["dose_amount"] else ""


LEVELS: Columns = {
    "Key": key,
    "Issuer": field("issuer_name"),
    "Region": field("region"),
    "When": season,
    "Unit": lambda row: UNITS[row["unit"]],
    "Bands": bands_in_words,
    "Act at": act_in_words,
}
WAYS: Columns = {
    "Key": key,
    "Way": field("name"),
    "Label of": field("jurisdiction"),
    "Dose": dose,
    "Stays in": stays_in,
    "Temperature": temperature,
    "Supers": field("supers"),
    "Brood": field("brood_note"),
    "Recount": recount_in_words,
}
RULES: Columns = {
    "Rule of": lambda row: REGIMES[row["regime"]],
    "Asks for": lambda row: f"{row['value']} years" if row["item"] == "keep" else field("item")(row),
    "Clause": field("clause"),
    "Only if": field("only_if"),
}
LIMITS: Columns = {
    "Way": lambda row: row["application"],
    "Limit": field("limit"),
    "Value": lambda row: f"{row['value']} {row['unit']}".strip(),
}
CAUTIONS: Columns = {"Where": field("where"), "In one sentence": field("sentence")}
MEASURES: Columns = {
    "Key": key,
    "Measure": field("measure"),
    "ml": field("millilitres"),
    "g": field("grams"),
    "Bees": field("bees"),
    "Bees per ml": field("bees_per_ml"),
    "g per bee": field("grams_per_bee"),
}
OPEN_RULES: Columns = {
    "Key": key,
    "Rule": field("name"),
    "Country": field("jurisdiction"),
    "All below": field("all_below"),
    "Percent": field("share_percent"),
    "At least": field("at_least"),
    "Clause": field("clause"),
}
NOTIFIABLE: Columns = {
    "Key": key,
    "Disease or pest": field("name"),
    "Country": field("jurisdiction"),
    "Duty": field("duty"),
    "Whom to tell": lambda row: f"{row['tell']} ({row['tell_mark']})",
}
SOURCES: Columns = {
    "Key": lambda row: f'<a id="{row["key"]}"></a>{row["key"]}',
    "Source": field("citation"),
    "Address": lambda row: row["address"],
    "Year": field("year"),
    "How read": field("read_as"),
}


def action_levels() -> str:
    """The page of action levels, one table for each kind of count."""
    levels = rows("action_levels.csv")
    parts = [
        f"## {heading}\n\n" + table(LEVELS | SOURCED, (row for row in levels if row["kind"] == kind))
        for kind, heading in KINDS.items()
    ]
    return page("# Action levels", ABOUT_LEVELS, *parts)


def ways_of_treating() -> str:
    """The page of ways of treating, their limits one by one, and the cautions."""
    return page(
        "# Ways of treating",
        ABOUT_WAYS,
        table(WAYS | SOURCED, rows("applications.csv")),
        "## Limits one by one",
        table(LIMITS | SOURCED, rows("dated_limits.csv")),
        "## Cautions",
        table(CAUTIONS | SOURCED, rows("cautions.csv")),
    )


def bees_per_measure() -> str:
    """The page of bees per measure."""
    return page("# Bees per measure", ABOUT_MEASURES, table(MEASURES | SOURCED, rows("bees_per_measure.csv")))


def medicine_record() -> str:
    """The page of what a medicine record holds: who asks for what, and for how long it is kept."""
    return page(
        "# What a medicine record holds",
        ABOUT_RECORD,
        *(
            f"## {heading}\n\n"
            + table(RULES | SOURCED, (row for row in rows("record_rules.csv") if row["entry"] == entry))
            for entry, heading in ENTRIES.items()
        ),
    )


def visits() -> str:
    """The page of what an inspector opens and looks for."""
    return page(
        "# Visits: how many colonies to open, and what is looked for",
        ABOUT_VISITS,
        "## How many colonies to open",
        table(OPEN_RULES | SOURCED, rows("visit_rules.csv")),
        "## What is notifiable",
        table(NOTIFIABLE | SOURCED, rows("notifiable.csv")),
    )


def sources() -> str:
    """The page of sources, by key."""
    return page("# Sources of the reference data", ABOUT_SOURCES, table(SOURCES, rows("sources.csv")))


PAGES = {
    "action-levels.md": action_levels,
    "ways-of-treating.md": ways_of_treating,
    "bees-per-measure.md": bees_per_measure,
    "medicine-record.md": medicine_record,
    "visits.md": visits,
    "sources.md": sources,
}


def stale(folder: Path = HERE, pages: Pages = PAGES) -> list[str]:
    """Names of the pages that are missing or differ from what would be written."""
    paths = {name: folder / name for name in pages}
    return [n for n, p in paths.items() if not p.exists() or p.read_text(encoding="utf-8") != pages[n]()]


def run(pages: Pages, arguments: list[str], *, script: str) -> int:
    """Write the pages, or with --check only compare; the exit status."""
    if "--check" in arguments:
        found = stale(pages=pages)
        for name in found:
            print(f"docs/reference/{name} is stale: run docs/reference/{script}", file=sys.stderr)
        return 1 if found else 0
    for name, written in pages.items():
        (HERE / name).write_text(written(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_tables.py"))
