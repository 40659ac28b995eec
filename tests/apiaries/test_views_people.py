"""The pages of the club and oneself, and the pages to read, through the test client."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.contrib.messages import get_messages
from django.core import mail
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_region, edit_yard
from apiaries.models import Person

Opens = Callable[[Person | None], Client]


def url(name: str, *args: object) -> str:
    return reverse(f"apiaries:{name}", args=args)


def said(response: Any) -> str:
    return " ".join(str(message) for message in get_messages(response.wsgi_request))


def test_me_saves_name_hour_and_sharing(cast: Any, client_for: Opens) -> None:
    typed = {
        "name": "Alice B",
        "language": "en-gb",
        "time_zone": "Europe/Paris",
        "mail_at": "06:00",
        "shares_counts": "on",
    }

    client_for(cast.alice).post(url("me"), typed)

    person = Person.objects.get(pk=cast.alice.pk)
    assert (person.name, person.mail_at, person.wants_mail) == ("Alice B", dt.time(6), False)
    assert person.membership.shares_counts


def test_me_saves_which_mails_are_wanted_and_on_which_days(cast: Any, client_for: Opens) -> None:
    typed = {"name": "Alice", "language": "en-gb", "time_zone": "Europe/Paris", "mail_at": "06:00"}
    wishes = {"wants_calls": "on", "quiet_days": ["6", "2"]}
    client_for(cast.alice).post(url("me"), typed | wishes)

    person = Person.objects.get(pk=cast.alice.pk)
    assert (person.wants_mail, person.wants_calls, person.quiet_days) == (False, True, [2, 6])


def test_me_with_seven_days_without_mail_changes_nothing(cast: Any, client_for: Opens) -> None:
    typed = {
        "name": "Other",
        "language": "en-gb",
        "time_zone": "Europe/Paris",
        "mail_at": "06:00",
        "quiet_days": list("0123456"),
    }
    page = client_for(cast.alice).post(url("me"), typed).content.decode()

    assert "untick the three mails instead" in page
    assert Person.objects.get(pk=cast.alice.pk).name == "Alice"


def test_me_without_a_club_offers_no_sharing(db: Any, client_for: Opens) -> None:
    page = client_for(Person.objects.create_user("new@example.org", name="New")).get(url("me"))

    assert "You belong to no club at present" in page.content.decode()
    assert 'name="shares_counts"' not in page.content.decode()


def test_club_settings_and_regions_are_saved(cast: Any, client_for: Opens) -> None:
    client = client_for(cast.adam)
    typed = {
        "name": "Renamed",
        "time_zone": "Europe/Paris",
        "jurisdiction": "any",
        "bees_per_half_cup": "400",
    }

    client.post(url("club-edit"), typed)
    client.post(url("region-add"), {"name": "East"})

    cast.club.refresh_from_db()
    assert (cast.club.name, cast.club.bees_per_half_cup, cast.club.action_level_issuer) == (
        "Renamed",
        400,
        "",
    )
    assert cast.club.regions.filter(name="East").exists()


@pytest.mark.parametrize(
    ("issuer", "words"),
    [
        ("de_hannover", "no level that a count can be compared with by its date"),
        ("au_nsw_dpi", "no level that a count can be compared with by its date"),
        ("gb_leaflet_2005", "no level for washes and rolls that holds by date alone"),
    ],
)
def test_choice_without_a_level_is_warned_of(cast: Any, client_for: Opens, issuer: str, words: str) -> None:
    client = client_for(cast.adam)
    typed = {"name": "C", "time_zone": "UTC", "jurisdiction": "any", "bees_per_half_cup": "300"}

    response = client.post(url("club-edit"), typed | {"action_level_issuer": issuer})

    assert f"{words}. Such counts are shown without a comparison." in said(response)
    assert f"It has {words}" in client.get(url("club-edit")).content.decode()


def test_levels_of_each_body_are_told_at_the_choice(cast: Any, client_for: Opens) -> None:
    page = client_for(cast.adam).get(url("club-edit")).content.decode()

    for line in (
        "Wash or roll: from 3 per 100 bees (the whole year)",
        "Board, natural drop: more than 30 a day (the whole year)",
        "Wash or roll: from 1 per 100 bees (April to May, from memory)",
        "Board, natural drop: more than 5 a day (July, only: young colonies)",
    ):
        assert line in page
    for name in ("counts:count-months", "reports:region-published", "reports:bulletin-list"):
        assert f'href="{reverse(name)}"' in page


def test_region_is_renamed_and_the_history_keeps_the_old_name(cast: Any, client_for: Opens) -> None:
    client, edit = client_for(cast.adam), url("region-edit", cast.north.pk)
    assert edit in client.get(url("club-edit")).content.decode()

    response = client.post(edit, {"name": "NORTH"})

    assert said(response) == "The region North is now NORTH."
    events = apps.get_model("apiaries", "RegionEvent").objects.filter(pgh_obj=cast.north.pk)
    assert [one.name for one in events.order_by("pgh_id")] == ["North", "NORTH"]
    page = client.post(edit, {"name": "south"}).content.decode()
    assert "has a region with this name already" in page and 'value="south"' in page


def test_region_without_anything_recorded_is_removed(cast: Any, client_for: Opens) -> None:
    client = client_for(cast.adam)
    client.post(url("region-add"), {"name": "Nrth"})
    mistake = cast.club.regions.get(name="Nrth")
    assert "Remove the region" in client.get(url("region-edit", mistake.pk)).content.decode()

    response = client.post(url("region-remove", mistake.pk))

    assert said(response).endswith("The region Nrth is removed.")
    assert not cast.club.regions.filter(name="Nrth").exists()


def test_region_that_a_yard_once_stood_in_stays(cast: Any, client_for: Opens) -> None:
    client, east = client_for(cast.adam), add_region(club=cast.club, name="East", by=cast.adam)
    place = {"name": "Home yard", "latitude": None, "longitude": None, "by": cast.alice}
    edit_yard(yard=cast.alice_yard, region=east, **place)
    edit_yard(yard=cast.alice_yard, region=cast.north, **place)
    assert "cannot be removed" in client.get(url("region-edit", east.pk)).content.decode()

    response = client.post(url("region-remove", east.pk))

    assert "stays: something is recorded of it" in said(response)
    assert cast.club.regions.filter(name="East").exists()


# ---------- pages to read


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("who-sees-what", "if the keeper says so"),
        ("cautions", "International Chemical Safety Card"),
        ("help", "0 is a count"),
    ],
)
def test_pages_to_read(cast: Any, client_for: Opens, name: str, words: str) -> None:
    assert words in client_for(cast.alice).get(url(name)).content.decode()


def test_cautions_say_in_the_box_what_has_no_source(cast: Any, client_for: Opens) -> None:
    page = client_for(cast.alice).get(url("cautions")).content.decode()

    assert page.count('<p class="muted small">Common practice, no source</p>') == 9
    assert 'href="https://inchem.org/documents/icsc/icsc/eics0707.htm"' in page
    assert "rated charge" not in page


def test_help_has_a_part_for_administrators_only(cast: Any, client_for: Opens) -> None:
    assert "For administrators" in client_for(cast.adam).get(url("help")).content.decode()
    assert "For administrators" not in client_for(cast.alice).get(url("help")).content.decode()


def test_foot_of_every_page_leads_to_help_and_cautions(cast: Any, client_for: Opens) -> None:
    page = client_for(cast.alice).get(url("yard-list")).content.decode()

    assert all(url(name) in page for name in ("help", "who-sees-what", "cautions", "me"))


def test_pages_send_no_mail_by_being_opened(cast: Any, client_for: Opens) -> None:
    client_for(cast.dana).get(url("invitation-add"))

    assert mail.outbox == []
