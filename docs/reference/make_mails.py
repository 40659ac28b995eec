"""Write the page of what mails come when from the rules that the planner uses.

.venv/bin/python docs/reference/make_mails.py            writes the page
.venv/bin/python docs/reference/make_mails.py --check    exits 1 if it is stale
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from make_tables import Columns, Row, field, run, table  # noqa: E402

from counts.call_rules import again_call, month_call, week_call  # noqa: E402
from reports import due_days  # noqa: E402
from reports.due_days import Course, Stage  # noqa: E402
from treatments.recount_rules import Window  # noqa: E402

NOTE = "<!-- Written by make_mails.py from reports/due_days.py: edit that, then run it again. -->"
ABOUT = """\
What Recount writes about, and when: once before, once on the day, once when late, then nothing more. Everything of a
day comes in one mail, at the hour and on the days of the week that each person chose; what is done, skipped,
cancelled or put off by then is left out. Days are calendar days where the keeper lives. *Of use* is the last day on
which a mail that could not leave is still sent; after that it is given up, and the operator sees it.

When the club's bulletin is issued, every other member who wants it finds one line with a link in their next daily
mail, for 14 days from its issue; a member with nothing else due gets a mail with that line alone. It has a wish of
its own on *Me* and a link that stops it alone, says no figure and no place, and makes no second mail on one day.

When an inspector plans a visit and announces it, and again when its report is there, the keeper of the yard finds one
line with a link in their next daily mail: until the day of the visit, and for 14 days from the report. It names yard
and day, no finding and no figure, and stops with the mails about recounts and treatments.

Changes of an account are told apart from all that, by the next run of each minute and whatever mails a person wants:
password, address (to the old one and the new one), second step on or off, new recovery codes, a token made or revoked,
another role, the wish to be forgotten, signed out by an administrator. Each mail is written down with the change. While
the mail server is away it waits, for 3 days at most; then it is given up, and the log says so.

The days before and after are common practice or our choice, as `reports/due_days.py` and `counts/call_rules.py` say
beside each."""
DAY = dt.date(2026, 8, 10)
COLUMNS: Columns = {
    "About": field("about"),
    "Before": field("soon"),
    "On the day": field("due"),
    "When late": field("late"),
    "Of use until": field("over"),
}


def after(names: dict[dt.date, str], on: dt.date | None) -> str:
    """A day in words: so many days before or after the nearest of the named days."""
    if on is None:
        return "–"
    named = min(names, key=lambda day: abs((on - day).days))
    days = (on - named).days
    if days == 0:
        return names[named]
    return f"{abs(days)} day{'s' * (abs(days) != 1)} {'after' if days > 0 else 'before'} {names[named]}"


def row(about: str, course: Course, names: dict[dt.date, str]) -> Row:
    """One line: the first day of every stage, and the last day of use."""
    begins = {stage: first for stage, first, _ in course.stages()}
    return {
        "about": about,
        "soon": after(names, begins.get(Stage.SOON)),
        "due": after(names, begins[Stage.DUE]),
        "late": after(names, begins.get(Stage.LATE)),
        "over": after(names, course.over_on),
    }


def rows() -> list[Row]:
    """All kinds of matters, on invented days."""
    ideal, latest = DAY, DAY + dt.timedelta(days=40)
    recount = due_days.recount_course(Window(DAY - dt.timedelta(days=20), ideal, latest))
    month = month_call(dt.date(2026, 8, 1), [8])
    first, last = DAY, DAY + dt.timedelta(days=20)
    week = week_call(first, last)
    again = again_call(DAY, DAY - dt.timedelta(days=60))
    call = due_days.call_course
    return [
        row("a recount", recount, {ideal: "the best day, never before the first", latest: "the last day"}),
        row("a round to give", due_days.round_course(DAY), {DAY: "its day"}),
        row("what is to be taken out", due_days.out_course(DAY), {DAY: "its day"}),
        row("a clear date", due_days.clear_course(DAY), {DAY: "its day"}),
        row(
            "a routine count of the club’s calendar",
            call(month.first_on, month.last_on, month.over_on),
            {month.first_on: "the 1st of the month", month.last_on: "the end of the month"},
        ),
        row(
            "“count again by” of the outlook",
            call(again.first_on, again.last_on, again.over_on),
            {again.last_on: "its day"},
        ),
        row(
            "a count week",
            due_days.week_course(week.first_on, week.last_on),
            {first: "its first day", last: "its last day"},
        ),
    ]


def page() -> str:
    """The whole page."""
    return "\n\n".join(["# What mails come when", NOTE, ABOUT, table(COLUMNS, rows())]) + "\n"


PAGES = {"mails.md": page}

if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_mails.py"))
