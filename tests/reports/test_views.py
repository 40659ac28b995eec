"""Region by month tells three things apart: a figure, a hidden one, and no samples. Mail stops; health shows."""

import datetime as dt
import re

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import add_region
from apiaries.models import Person, Region, Yard
from config.celery import app
from counts.samples import Method
from reports import health
from reports.figures import refresh_marked
from reports.health import oldest_due
from reports.links import stop_token
from reports.models import Digest, DigestState, Heartbeat, Suspension
from reports.planner import PLANNER, plan_notices
from tests.reports.counting import AT, count
from tests.reports.treating import at, treated

PAGE = "/regions/"


@pytest.fixture
def figures(reference, counted_north, cast):
    """August 2026: North may be shown, South has one yard, and nobody counted in East."""
    add_region(club=cast.club, name="East", by=cast.adam)
    count(cast.charlie_yard.colonies.first(), dt.date(2026, 8, 5), 4)
    refresh_marked(at=AT)


def _cells(page, month="Aug"):
    """Words of the cells of a month, by region."""
    table = re.search(r'<table class="heat">(.*?)</table>', page, re.S)[1]
    place = re.findall(r'<th scope="col">(\w+)</th>', table).index(month) - 1
    found = {}
    for row in re.findall(r"<tr>(.*?)</tr>", table, re.S)[1:]:
        cells = re.findall(r"<td[^>]*>(.*?)</td>", row, re.S)
        words = [" ".join(re.sub(r"<[^>]+>", " ", cell).split()) for cell in cells]
        found[re.search(r'<th scope="row">.*?>([^<]+)<', row)[1]] = words[place]
    return found


def _page(client, query="?year=2026"):
    response = client.get(PAGE + query)
    assert response.status_code == 200
    return response.content.decode()


def test_page_tells_figure_hidden_and_no_samples_apart(client_for, cast, figures):
    cells = _cells(_page(client_for(cast.dana)))

    assert re.match(
        r"2\.1 \? uncertain \d\.\d to \d\.\d either side of 3 3,000 bees North, Aug 2026 Mean", cells["North"]
    )
    assert re.search(
        r"2\.1 per 100 bees \(\d\.\d to \d\.\d\) 3,000 bees in 10 counts, 2 with no mite", cells["North"]
    )
    assert "5 keepers, 5 yards, 10 colonies" in cells["North"]
    assert re.search(r"\d+ % of yards above 3 \(\d+ to \d+ %\)", cells["North"])
    assert cells["South"] == "too few keepers"
    assert cells["East"] == "– no samples"


def test_table_is_written_once_and_anew_with_every_figure(client_for, cast, figures, monkeypatch):
    client = client_for(cast.dana)
    assert 'class="peek__more"' in _page(client)
    monkeypatch.setattr("reports.region_cells.Cell.told", "written again")
    assert "written again" not in _page(client)
    assert "written again" in _page(client, "?year=2026&order=highest")

    count(cast.colonies[3], dt.date(2026, 8, 20), 90)
    refresh_marked(at=AT + dt.timedelta(minutes=1))
    assert "written again" in _page(client)


def test_no_samples_and_hidden_cells_show_no_digit(client_for, cast, figures):
    cells = _cells(_page(client_for(cast.dana)))

    assert not re.search(r"\d", cells["South"] + cells["East"])


def test_none_found_is_a_figure_with_an_upper_limit(client_for, cast, figures, keeper_in):
    for name in ("Pia", "Quin", "Ria", "Sam", "Tom"):
        for yard in keeper_in(name, Region.objects.get(name="East")):
            count(yard.colonies.first(), dt.date(2026, 8, 5), 0)
    refresh_marked(at=AT)

    cell = _cells(_page(client_for(cast.dana)))["East"]
    assert re.match(r"none found \? uncertain 0\.0 to \d\.\d below 3 1,500 bees", cell)
    assert re.search(r"Mean of the yards: none found \(0\.0 to \d\.\d\)", cell)


def test_kinds_are_shown_apart_and_boards_per_day(client_for, cast, figures, counted_north):
    assert "No boards here yet" in _page(client_for(cast.dana), "?year=2026&kind=board")
    for yard in counted_north:
        count(yard.colonies.first(), dt.date(2026, 8, 9), 12, Method.BOARD)
    refresh_marked(at=AT)

    page = _page(client_for(cast.dana), "?year=2026&kind=board")
    assert re.match(r"4\.0 \? uncertain [\d.]+ to [\d.]+ below 30 15 board days", _cells(page)["North"])
    assert "mites per day" in page
    assert "per 100 bees" not in page


def test_months_are_told_up_to_today(client_for, cast, figures, time_machine):
    time_machine.move_to(AT)
    months = re.findall(
        r'<th scope="col">(\w+)</th>',
        re.search(r'<table class="heat">.*?</table>', _page(client_for(cast.dana)), re.S)[0],
    )
    assert months == ["Region", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep"]


def test_one_regions_series_has_chart_and_table(client_for, cast, figures):
    page = _page(client_for(cast.dana), f"?year=2026&region={cast.north.pk}")

    assert "North, month by month" in page
    words = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert re.search(
        r"Aug 2026 2\.1 per 100 bees \(\d\.\d to \d\.\d\) 3,000 bees either side of 3 \? uncertain", words
    )
    assert re.search(
        r"\d\.\d ; \d\.\d to \d\.\d \d+ % above 3 \(\d+ to \d+ %\) 5 keepers, 5 yards, 10 colonies", words
    )
    assert re.search(
        r'<img src="/regions/chart.svg\?[^"]+" alt="Washes in 2026, [^"]*North: highest in Aug', page
    )
    assert "– no samples" in page


def test_region_of_another_club_does_not_exist(client_for, cast, figures):
    foreign = add_region(club=cast.zoe.membership.club, name="Far", by=cast.zoe)

    for region in (foreign.pk, 10**9, "x"):
        assert client_for(cast.dana).get(PAGE, {"region": region}).status_code == 404
        assert client_for(cast.dana).get("/regions/chart.svg", {"region": region}).status_code == 404


def test_another_clubs_figures_are_not_shown(client_for, cast, figures):
    page = _page(client_for(cast.zoe))

    assert "North" not in page
    assert "No samples here yet" in page


@pytest.mark.parametrize(
    "query",
    [
        "?year=1066",
        "?year=x",
        "?kind=guess",
        "?kind=drone_brood&year=-1",
        "?part=mine",
        "?level=mine",
        "?compare=1",
        "?order=up",
    ],
)
def test_odd_wishes_get_the_usual_page_with_a_word(client_for, cast, figures, query):
    page = _page(client_for(cast.dana), query)

    assert "Select a valid choice" in page
    assert "<title>Error: Region by month" in page


def test_strangers_are_sent_to_sign_in(client_for, cast):
    for path in (PAGE, "/regions/chart.svg"):
        assert client_for(None).get(path).url.startswith("/account/login/")


def test_page_says_as_of_when_and_what_is_still_to_come(client_for, cast, figures):
    assert "Figures as of 30 Sep 2026, 14:00 your time." in _page(client_for(cast.dana))
    count(cast.colonies[4], dt.date(2026, 8, 6), 1)

    assert "are being worked in" in _page(client_for(cast.dana))


def test_query_count_is_the_same_for_few_and_many_cells(client_for, cast, figures, keeper_in):
    client = client_for(cast.dana)
    _page(client)
    with CaptureQueriesContext(connection) as few:
        _page(client)
    for number in range(10):
        region = add_region(club=cast.club, name=f"Valley {number}", by=cast.adam)
        yard = keeper_in(f"Uli{number}", region)[0]
        for month in range(4, 10):
            count(yard.colonies.first(), dt.date(2026, month, 5), 3)
    refresh_marked(at=AT)
    _page(client)  # the table is written once for a minute, into the cache
    with CaptureQueriesContext(connection) as many:
        _page(client)

    assert len(many) == len(few)


def test_chart_is_an_svg_for_each_theme_and_size(client_for, cast, figures):
    client = client_for(cast.dana)
    pictures = {
        client.get("/regions/chart.svg", {"year": 2026, "theme": theme, "size": size}).content
        for theme in ("light", "dark")
        for size in ("wide", "narrow")
    }
    assert len(pictures) == 4
    assert all(picture.startswith(b"<svg") for picture in pictures)
    assert client.get("/regions/chart.svg", {"theme": "pink"}).status_code == 404


def test_looking_at_the_stop_link_changes_nothing_and_posting_stops(client_for, cast):
    link = reverse("reports:mail-stop", args=[stop_token(cast.alice)])
    client = client_for(None)
    client.handler.enforce_csrf_checks = True

    assert "Nothing has changed yet" in client.get(link).content.decode()
    cast.alice.refresh_from_db()
    assert cast.alice.wants_mail
    for _ in range(2):  # a mail program may post twice
        answer = client.post(link, {"List-Unsubscribe": "One-Click"})
        assert (answer.status_code, "No more mails" in answer.content.decode()) == (200, True)
    cast.alice.refresh_from_db()
    assert not cast.alice.wants_mail


def test_forged_stop_link_does_not_exist(client_for, cast):
    token = stop_token(cast.alice)
    for forged in (token[:-1] + ("a" if token[-1] != "a" else "b"), "1", "x:y"):
        assert client_for(None).post(f"/mail/stop/{forged}/").status_code == 404


def _health(client_for, clock, moment):
    clock.move_to(moment)
    cache.clear()
    response = client_for(None).get("/healthz/reminders/")
    return response.status_code, response.json()


def test_health_turns_red_when_nothing_plans_or_sends(client_for, cast, reference, time_machine):
    time_machine.move_to(at("08-20", 4))
    assert _health(client_for, time_machine, at("08-20", 4)) == (200, {"oldest_due_minutes": 0})
    treated(cast.colonies[:2])

    assert _health(client_for, time_machine, at("08-20", 5, 10)) == (200, {"oldest_due_minutes": 10})
    assert _health(client_for, time_machine, at("08-20", 5, 40)) == (503, {"oldest_due_minutes": 40})
    plan_notices(at=at("08-20", 5, 40))
    assert _health(client_for, time_machine, at("08-20", 5, 41)) == (503, {"oldest_due_minutes": 41})
    Digest.objects.update(state=DigestState.SENT, sent_at=at("08-20", 5, 41))
    assert _health(client_for, time_machine, at("08-20", 6)) == (200, {"oldest_due_minutes": 0})


def test_health_works_nothing_out_while_somebody_plans(
    cast, reference, monkeypatch, django_assert_max_num_queries
):
    """Anybody may ask, and what all keepers of a country are owed takes a minute to work out."""
    treated(cast.colonies[:2])
    plan_notices(at=at("08-20", 5))
    Digest.objects.update(state=DigestState.SENT, sent_at=at("08-20", 5))
    assert oldest_due(at=at("08-20", 5, 21)) is None

    def work_out(**_):
        raise AssertionError("worked out for a stranger")

    monkeypatch.setattr(health, "owed_notices", work_out)
    with django_assert_max_num_queries(5):
        assert oldest_due(at=at("08-20", 5, 20)) is None
    with pytest.raises(AssertionError, match="for a stranger"):
        oldest_due(at=at("08-20", 5, 21))


def test_planning_in_time_is_planning_lately():
    every = app.conf.beat_schedule["wake-notices"]["schedule"]
    assert every < health.LATELY < 2 * every


def test_of_more_keepers_than_a_clubs_it_counts_that_nobody_planned(cast, reference, monkeypatch):
    monkeypatch.setattr(health, "MOST_KEEPERS", 1)
    monkeypatch.setattr(health, "owed_notices", None)
    first = Yard.objects.earliest("made_at").made_at

    assert oldest_due(at=at("08-20", 5)) == first
    Heartbeat.objects.create(name=PLANNER, at=at("08-20", 4))
    assert oldest_due(at=at("08-20", 5)) == at("08-20", 4)
    Person.objects.update(wants_mail=False, wants_calls=False)
    monkeypatch.setattr(health, "owed_notices", lambda at: [])
    assert oldest_due(at=at("08-20", 5)) is None, "nobody wants any"


def test_refused_address_is_told_and_can_be_sent_to_again(client_for, cast):
    why = "550 5.1.1 no such mailbox"
    Suspension.objects.create(person=cast.alice, email=cast.alice.email, why=why, since=AT)
    Suspension.objects.create(person=cast.bob, email=cast.bob.email, why=why, since=AT)
    client = client_for(cast.alice)
    page = client.get(reverse("apiaries:me")).content.decode()
    assert why in page and 'action="/mail/again/"' in page

    page = client.post(reverse("reports:mail-again"), follow=True).content.decode()

    assert "Mail goes to alice@example.org again." in page and why not in page
    assert [one.person for one in Suspension.objects.all()] == [cast.bob]


def test_looking_does_not_lift_a_suspension(client_for, cast):
    Suspension.objects.create(person=cast.alice, email=cast.alice.email, why="550", since=AT)
    assert client_for(cast.alice).get(reverse("reports:mail-again")).status_code == 405
    assert Suspension.objects.exists()
