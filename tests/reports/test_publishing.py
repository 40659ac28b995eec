"""A month is published once, as it is then; what is logged, corrected or moved later changes nothing of it."""

import datetime as dt
import re
import threading
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import ProgrammingError, connection, transaction
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_region
from apiaries.models import Club
from counts.samples import Kind
from reports import publishing, tasks
from reports.actions import open_public_page
from reports.figures import refresh_marked, write_anew
from reports.models import Publication, PublicPage, RegionMonth
from reports.parts import Part
from reports.publishing import last_due, publish_due, published_on
from tests.reports.counting import AT, count

PAGE = "/regions/published/"
AUGUST = dt.date(2026, 8, 1)
DAY = dt.timedelta(days=1)


def _club_since(cast, year, month):
    moment = dt.datetime(year, month, 15, 12, tzinfo=dt.UTC)
    Club.objects.update(founded_at=moment)
    cast.club.refresh_from_db()


@pytest.fixture
def since_june(cast):
    _club_since(cast, 2026, 6)


@pytest.fixture
def figures(reference, counted_north, cast, since_june):
    """August 2026: North may be shown, South has one yard, and nobody counted in East."""
    add_region(club=cast.club, name="East", by=cast.adam)
    count(cast.charlie_yard.colonies.first(), dt.date(2026, 8, 5), 4)
    refresh_marked(at=AT)


def _published(club):
    return list(
        RegionMonth.objects.filter(region__club=club, frozen_at__isnull=False)
        .order_by("month", "region__name", "kind")
        .values("month", "region__name", "kind", "part", "yards", "keepers", "rate", "reason", "frozen_at")
    )


@pytest.mark.parametrize(
    ("moment", "due"),
    [
        ("2026-09-09T21:59", (2026, 7, 1)),  # the 9th in Berlin, one minute before midnight
        ("2026-09-09T22:00", (2026, 8, 1)),
        ("2026-01-10T12:00", (2025, 12, 1)),
        ("2026-01-09T12:00", (2025, 11, 1)),
    ],
)
def test_month_is_due_on_the_tenth_by_the_clubs_calendar(cast, moment, due):
    at = dt.datetime.fromisoformat(moment).replace(tzinfo=dt.UTC)
    assert last_due(cast.club, at) == dt.date(*due)
    assert published_on(dt.date(2026, 12, 1)) == dt.date(2027, 1, 10)


def test_nothing_is_published_before_its_day(figures, cast):
    assert publish_due(at=dt.datetime(2026, 9, 9, 12, tzinfo=dt.UTC)) == 4  # June and July of two clubs
    assert not _published(cast.club)


def test_month_is_published_once_whole_and_hidden_cells_too(figures, cast):
    assert publish_due(at=AT) == 6
    assert publish_due(at=AT) == publish_due(at=AT + DAY) == 0

    north, south = _published(cast.club)
    assert (north["region__name"], north["part"], north["reason"], north["frozen_at"]) == (
        "North",
        Part.ALL,
        "",
        AT,
    )
    assert (south["region__name"], south["reason"], south["rate"]) == ("South", "too_few_keepers", None)
    months = [one.month.month for one in Publication.objects.filter(club=cast.club)]
    assert months == [6, 7, 8]


def test_figures_are_kept_as_they_are_shown(figures, cast):
    publish_due(at=AT)
    live = RegionMonth.objects.get(region=cast.north, part=Part.ALL, frozen_at=None)
    row = RegionMonth.objects.get(region=cast.north, frozen_at=AT)
    for name in ("rate", "low", "high", "median"):
        kept = getattr(row, name) * 1000
        assert kept == pytest.approx(round(kept)) and abs(getattr(live, name) * 1000 - kept) <= 0.5
    assert len(row.shares) == 1 < len(live.shares)
    assert all(end == round(end, 2) for end in row.shares.popitem()[1])
    assert (row.tenth, row.ninetieth, row.exposure, row.squared_cv, row.yards_effective) == (None,) * 5


def test_later_counts_corrections_and_moves_change_nothing(figures, cast, keeper_in, counted_north):
    publish_due(at=AT)
    before = _published(cast.club)
    for yard in keeper_in("Olli", cast.north, 2):
        count(yard.colonies.first(), dt.date(2026, 8, 20), 40)
    for name in ("Pia", "Quin", "Ria", "Sam"):
        count(keeper_in(name, cast.south)[0].colonies.first(), dt.date(2026, 8, 20), 9)
    refresh_marked(at=AT + DAY)
    assert RegionMonth.objects.get(region=cast.south, part=Part.ALL, frozen_at=None).reason == ""

    assert publish_due(at=AT + DAY) == 0
    write_anew(at=AT + DAY)
    assert _published(cast.club) == before


def test_published_row_cannot_be_changed(figures, cast):
    publish_due(at=AT)
    with pytest.raises(ProgrammingError, match="Cannot update"), transaction.atomic():
        RegionMonth.objects.filter(frozen_at=AT).update(yards=9)


def test_month_waits_while_its_figures_are_behind(figures, cast, counted_north):
    count(counted_north[0].colonies.first(), dt.date(2026, 8, 6), 5)
    publish_due(at=AT)
    assert not Publication.objects.filter(club=cast.club).exists()
    refresh_marked(at=AT)
    assert publish_due(at=AT) == 3


def test_failure_halfway_publishes_nothing(figures, cast, monkeypatch):
    def fails(*_):
        raise RuntimeError("power is gone")

    monkeypatch.setattr(publishing, "as_published", fails)
    with pytest.raises(RuntimeError):
        publish_due(at=AT)
    assert not _published(cast.club) and not Publication.objects.filter(club=cast.club).exists()
    monkeypatch.undo()
    publish_due(at=AT)
    assert len(_published(cast.club)) == 2


def test_older_months_wait_for_the_next_day_of_publication_and_to_be_shown(figures, cast, counted_north):
    _club_since(cast, 2026, 9)
    count(cast.charlie_yard.colonies.first(), dt.date(2025, 7, 5), 4)
    refresh_marked(at=AT)
    assert publish_due(at=AT) == 0
    at = dt.datetime(2026, 10, 10, 12, tzinfo=dt.UTC)
    publish_due(at=at)
    assert [one.month for one in Publication.objects.filter(club=cast.club)] == [
        AUGUST,
        dt.date(2026, 9, 1),
    ]

    for yard in counted_north:  # more of the old sheets come in
        count(yard.colonies.first(), dt.date(2025, 7, 5), 4)
    refresh_marked(at=at)
    assert publish_due(at=at + DAY) == 0
    assert publish_due(at=at + 31 * DAY) >= 2
    july = [row for row in _published(cast.club) if row["month"] == dt.date(2025, 7, 1)]
    assert [(row["region__name"], row["reason"]) for row in july] == [
        ("North", ""),
        ("South", "too_few_keepers"),
    ]


def test_the_tick_and_the_command_publish(figures, cast, time_machine):
    time_machine.move_to(AT)
    tasks.wake_region_figures()
    assert Publication.objects.filter(club=cast.club).count() == 3
    time_machine.move_to(AT + 31 * DAY)
    out = StringIO()
    call_command("refresh_figures", stdout=out)
    assert "2 months published" in out.getvalue()


def test_second_look_at_nothing_due_costs_two_queries(figures, cast):
    publish_due(at=AT)
    with CaptureQueriesContext(connection) as asked:
        publish_due(at=AT + DAY)
    assert len(asked) == 2


@pytest.mark.django_db(transaction=True)
def test_two_processes_at_once_publish_once(figures, cast):
    start, done = threading.Barrier(4), []

    def run():
        start.wait()
        done.append(publish_due(at=AT))
        connection.close()

    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 4 and sum(done) == 6
    assert len(_published(cast.club)) == 2


def _cells(page, month="Aug 2026"):
    row = re.search(rf"<th scope=\"row\">{month}<(.*?)</tr>", page, re.S)[1]
    found = re.findall(r"<td data-label=\"(\w+)\">(.*?)</td>", row, re.S)
    return {region: " ".join(re.sub(r"<[^>]+>", " ", cell).split()) for region, cell in found}


def _page(client, query="?year=2026"):
    response = client.get(PAGE + query)
    assert response.status_code == 200
    return response.content.decode()


@pytest.fixture
def on_the_page(figures, cast, client_for, time_machine):
    publish_due(at=AT)
    time_machine.move_to(AT)
    return client_for(cast.alice)


def test_member_is_shown_the_published_months(on_the_page):
    answer = on_the_page.get("/regions/", follow=True)
    assert answer.redirect_chain == [(PAGE, 302)]
    page = _page(on_the_page)
    cells = _cells(page)
    assert re.fullmatch(
        r"2\.1 \(\d\.\d to \d\.\d\) \? uncertain median yard \d\.\d \d+ % of yards above 3 \(\d+ to \d+ %\)"
        r" about 3,000 bees in 10–19 counts, &lt;5 with no mite 5–9 keepers, 5–9 yards, 10–19 colonies",
        cells["North"],
    )
    assert (cells["South"], cells["East"]) == ("too few keepers", "– no samples")
    assert "published 30 Sep 2026" in page and "The next month is published on 10 Oct 2026" in page
    assert re.search(r'<th scope="row">Sep 2026</th>\s*<td[^>]*>– not published', page)
    assert re.search(r'<th scope="row">Jan to May 2026</th>\s*<td[^>]*>– not published', page)
    assert re.search(r'<th scope="row">Jun to Jul 2026</th>\s*<td[^>]*>– no samples', page)
    assert "as they are now</a>" not in page


def test_members_chart_draws_what_the_table_says_and_no_more(on_the_page, cast):
    page = _page(on_the_page)
    chart = on_the_page.get(f"{PAGE}chart.svg", {"year": 2026})

    assert f'<img src="{PAGE}chart.svg?kind=wash&amp;year=2026" alt="Washes published of 2026' in page
    assert "North: highest in Aug with 2.1 (" in page and "South: highest" not in page
    assert chart.status_code == 200 and chart["Content-Type"] == "image/svg+xml"
    assert b"2.1" in chart.content and b"South" not in chart.content
    assert on_the_page.get(f"{PAGE}chart.svg", {"theme": "pink"}).status_code == 404
    assert "as a chart" not in _page(on_the_page, "?year=2026&kind=board")


def test_none_found_is_published_with_an_upper_limit(on_the_page, cast, client_for, keeper_in, time_machine):
    for name in ("Pia", "Quin", "Ria", "Sam", "Tom"):
        count(keeper_in(name, cast.south)[0].colonies.first(), dt.date(2026, 9, 5), 0)
    refresh_marked(at=AT)
    later = AT + 14 * DAY
    publish_due(at=later)
    time_machine.move_to(later)
    assert re.match(
        r"None found \(up to \d\.\d\)", _cells(_page(client_for(cast.alice)), "Sep 2026")["South"]
    )


def test_coordinator_can_look_at_both(on_the_page, cast, client_for):
    client = client_for(cast.dana)
    assert client.get("/regions/").status_code == 200
    assert "as they are now</a>" in _page(client)


def test_other_filters_change_nothing(on_the_page, cast):
    plain = on_the_page.get(PAGE, {"year": 2026}).content
    words = re.compile(rb'(csrfmiddlewaretoken" value|nonce)="[^"]*"')
    for name, value in (
        ("region", cast.north.pk),
        ("part", "with_brood"),
        ("level", "x"),
        ("until", "2026-08-05"),
    ):
        asked = on_the_page.get(PAGE, {"year": 2026, name: value}).content
        assert words.sub(b"", asked) == words.sub(b"", plain)


def test_odd_wishes_get_the_usual_page_with_a_word(on_the_page):
    for query in ("?year=1066", "?year=x", "?kind=guess"):
        page = _page(on_the_page, query)
        assert "Select a valid choice" in page and "<title>Error: Region by month" in page
    assert "No boards are published here yet" in _page(on_the_page, f"?kind={Kind.BOARD}")


def test_another_clubs_months_are_not_shown(on_the_page, cast, client_for):
    page = _page(client_for(cast.zoe))
    assert "North" not in page and "Nothing is published here yet" in page


def test_page_costs_the_same_queries_for_few_and_many(on_the_page, cast, keeper_in):
    _page(on_the_page)
    with CaptureQueriesContext(connection) as few:
        _page(on_the_page)
    for number in range(6):
        region = add_region(club=cast.club, name=f"Valley {number}", by=cast.adam)
        count(keeper_in(f"Uli{number}", region)[0].colonies.first(), dt.date(2026, 9, 5), 3)
    refresh_marked(at=AT)
    publish_due(at=AT + 14 * DAY)
    with CaptureQueriesContext(connection) as many:
        _page(on_the_page)
    assert len(many) == len(few)


def test_administrator_shows_the_months_outside_and_stops(on_the_page, cast, client_for):
    adam, stranger = client_for(cast.adam), client_for(None)
    assert "Nobody outside the club sees these months" in _page(adam)
    for _ in range(2):
        adam.post("/regions/published/open/")
    address = re.search(r'href="[^"]*(/published/[^"]+)"', _page(adam))[1]
    answer = stranger.get(address, {"year": 2026})
    page = answer.content.decode()

    assert answer["X-Robots-Tag"] == "noindex" and '<meta name="robots" content="noindex">' in page
    assert re.match(r"2\.1 \(", _cells(page)["North"]) and _cells(page)["South"] == "too few keepers"
    assert "fewer than 5 keepers" in page and "Alice" not in page
    assert "shows its published months to people outside" in _page(on_the_page)

    adam.post("/regions/published/close/")
    assert stranger.get(address).status_code == 404
    adam.post("/regions/published/open/")
    assert stranger.get(address).status_code == 404  # another address now


def test_four_keepers_are_enough_inside_and_too_few_outside(on_the_page, cast, client_for, keeper_in):
    for name, yards in (("Pia", 1), ("Quin", 2), ("Ria", 1), ("Sam", 1)):
        for yard in keeper_in(name, cast.south, yards):
            count(yard.colonies.first(), dt.date(2026, 9, 5), 6)
    refresh_marked(at=AT)
    publish_due(at=AT + 14 * DAY)
    word = open_public_page(club=cast.club, at=AT, by=cast.adam).word

    assert re.match(r"2\.1 \(", _cells(_page(on_the_page), "Sep 2026")["South"])
    outside = client_for(None).get(f"/published/{word}/", {"year": 2026}).content.decode()
    assert _cells(outside, "Sep 2026")["South"] == "too few keepers"


def test_only_administrators_open_it(on_the_page, cast, client_for):
    for person in (cast.alice, cast.dana, cast.ines):
        assert client_for(person).post("/regions/published/open/").status_code == 403
    assert not PublicPage.objects.exists()
