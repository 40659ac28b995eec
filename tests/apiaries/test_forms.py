"""Forms: clear words at the place, what was typed is kept, nothing is guessed."""

import datetime as dt
from typing import Any

import pytest

from apiaries.forms import (
    ClubForm,
    ColonyAddForm,
    ColonyEndForm,
    ColonyForm,
    HelperForm,
    InvitationForm,
    MeForm,
    RegionForm,
    YardForm,
    YardSetUpForm,
)

TODAY = dt.date(2026, 8, 12)


def set_up(cast: Any, **typed: str) -> YardSetUpForm:
    data = {"name": "New", "region": str(cast.north.pk), "started_on": "12 Aug 2026", "colonies": "1–3"}
    return YardSetUpForm(data | typed, club=cast.club, keeper=cast.alice, today=TODAY)


def test_set_up_reads_colonies_day_and_place(cast: Any) -> None:
    form = set_up(cast, place="52.52, 13.405")

    assert form.is_valid(), form.errors
    assert form.cleaned_data["colonies"] == ["1", "2", "3"]
    assert form.cleaned_data["started_on"] == TODAY
    assert [str(form.latitude), str(form.longitude)] == ["52.52000", "13.40500"]


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("name", "", "Enter a name for the yard"),
        ("name", "home YARD", "already have a yard with this name"),
        ("region", "", "Choose the region"),
        ("colonies", "9-1", "runs backwards"),
        ("started_on", "12/8/2026", "12 Aug 2026 or 8 Dec 2026"),
        ("started_on", "13 Aug 2026", "still to come: today is 12 Aug 2026"),
        ("place", "somewhere", "latitude and longitude"),
    ],
)
def test_set_up_says_at_the_place_what_to_mend(cast: Any, field: str, typed: str, words: str) -> None:
    form = set_up(cast, **{field: typed})

    assert not form.is_valid()
    assert words in form.errors[field][0]
    assert list(form.errors) == [field]
    assert form[field].value() == typed


def test_area_needs_a_place_to_be_worked_out_from(cast: Any) -> None:
    form = set_up(cast, area_only="on", place="")

    assert list(form.errors) == ["place"]
    assert "its area is worked out from it" in form.errors["place"][0]


def test_place_that_was_not_read_is_told_once(cast: Any) -> None:
    assert len(set_up(cast, area_only="on", place="somewhere").errors["place"]) == 1


def test_yard_refuses_a_region_of_another_club(cast: Any) -> None:
    foreign = cast.zoe.membership.club.regions.create(name="Far")

    assert "region" in set_up(cast, region=str(foreign.pk)).errors


def test_yard_keeps_its_own_name_when_edited(cast: Any) -> None:
    data = {"name": "Home yard", "region": str(cast.north.pk)}

    assert YardForm(data, club=cast.club, keeper=cast.alice, yard=cast.alice_yard).is_valid()


def test_name_with_line_breaks_becomes_one_line(cast: Any) -> None:
    form = set_up(cast, name="Home\r\nBcc: all@example.org")

    assert form.is_valid()
    assert form.cleaned_data["name"] == "Home Bcc: all@example.org"


def test_colony_names_already_there_are_named(cast: Any) -> None:
    data = {"colonies": "5-9", "brood_boxes": "1", "started_on": "today"}
    form = ColonyAddForm(data, yard=cast.alice_yard, today=TODAY)

    assert "Colonies 5, 6 stand in this yard already" in form.errors["colonies"][0]


@pytest.mark.parametrize("boxes", ["", "0", "7", "two"])
def test_brood_boxes_say_one_to_six(cast: Any, boxes: str) -> None:
    data = {"colonies": "9", "brood_boxes": boxes, "started_on": "today"}

    assert "brood_boxes" in ColonyAddForm(data, yard=cast.alice_yard, today=TODAY).errors


def test_seen_brood_asks_for_the_day(cast: Any) -> None:
    data = {"name": "1", "brood_boxes": "1", "brood": "some", "brood_seen_on": ""}

    assert (
        "Enter the day you looked"
        in ColonyForm(data, colony=cast.colony, today=TODAY).errors["brood_seen_on"][0]
    )
    assert ColonyForm(data | {"brood": "unknown"}, colony=cast.colony, today=TODAY).is_valid()


def test_colony_cannot_end_before_it_stood_there(cast: Any) -> None:
    form = ColonyEndForm({"ended_on": "31 Mar 2026", "why": "sold"}, colony=cast.colony, today=TODAY)

    assert "did not stand here yet" in form.errors["ended_on"][0]


@pytest.mark.parametrize("email", ["nobody@example.org", "nonsense", ""])
def test_helper_must_be_somebody(db: Any, email: str) -> None:
    assert "email" in HelperForm({"email": email}).errors


def test_coordinator_is_offered_members_only(cast: Any) -> None:
    form = InvitationForm(membership=cast.dana.membership)

    assert [value for value, _ in form.fields["role"].choices] == ["member"]
    assert "regions" not in form.fields


def test_inspector_needs_a_region(cast: Any) -> None:
    data = {"email": "new@example.org", "role": "inspector"}

    form = InvitationForm(data, membership=cast.adam.membership)
    assert "at least one region" in form.errors["regions"][0]
    assert InvitationForm(data | {"regions": [cast.north.pk]}, membership=cast.adam.membership).is_valid()


def test_regions_are_an_inspectors(cast: Any) -> None:
    data = {"email": "new@example.org", "role": "member", "regions": [cast.north.pk]}
    form = InvitationForm(data, membership=cast.adam.membership)

    assert form.errors == {
        "regions": ["Only an inspector has regions. Untick these, or choose the role Inspector."]
    }


def test_inspector_of_a_club_without_regions_waits_for_one(cast: Any) -> None:
    data = {"email": "new@example.org", "role": "inspector"}

    form = InvitationForm(data, membership=cast.zoe.membership)

    assert "no regions yet" in form.errors["role"][0]


@pytest.mark.parametrize(
    ("field", "typed"), [("time_zone", "Mars/Base"), ("mail_at", "25:00"), ("name", " ")]
)
def test_me_refuses_what_cannot_be(cast: Any, field: str, typed: str) -> None:
    data = {"name": "Alice", "language": "en-gb", "time_zone": "Europe/Berlin", "mail_at": "07:00"} | {
        field: typed
    }
    form = MeForm(data, person=cast.alice, membership=cast.alice.membership)

    assert list(form.errors) == [field]


ME = {"name": "Alice", "language": "en-gb", "time_zone": "Europe/Berlin", "mail_at": "07:00"}


def test_me_reads_days_without_mail(cast: Any) -> None:
    form = MeForm(ME | {"quiet_days": ["6", "0"]}, person=cast.alice, membership=None)

    assert form.is_valid(), form.errors
    assert form.cleaned_data["quiet_days"] == [6, 0]
    assert MeForm(ME, person=cast.alice, membership=None).fields["quiet_days"].choices[5] == (5, "Saturday")


def test_me_refuses_seven_days_without_mail_and_keeps_what_was_typed(cast: Any) -> None:
    data = ME | {"name": "New name", "quiet_days": [str(day) for day in range(7)]}
    form = MeForm(data, person=cast.alice, membership=None)

    assert "untick the three mails instead" in form.errors["quiet_days"][0]
    assert str(form).count(" checked") == 7
    assert 'value="New name"' in str(form)


@pytest.mark.parametrize("typed", ["7", "-1", "Monday", "1.5"])
def test_me_refuses_days_that_are_none(cast: Any, typed: str) -> None:
    form = MeForm(ME | {"quiet_days": [typed]}, person=cast.alice, membership=None)

    assert list(form.errors) == ["quiet_days"]


def test_me_shows_the_wishes_that_are_kept(cast: Any) -> None:
    cast.alice.quiet_days, cast.alice.wants_calls = [5, 6], False
    form = MeForm(person=cast.alice, membership=None)

    kept = [form.initial[name] for name in ("wants_mail", "wants_calls", "quiet_days")]
    assert kept == [True, False, [5, 6]]
    assert str(form["quiet_days"]).count(" checked") == 2


def test_me_keeps_an_odd_hour(cast: Any) -> None:
    cast.alice.mail_at = dt.time(6, 40)
    form = MeForm(person=cast.alice, membership=cast.alice.membership)

    assert ("06:40", "06:40") in form.fields["mail_at"].choices


@pytest.mark.parametrize("bees", ["", "149", "601", "many"])
def test_club_refuses_an_implausible_half_cup(cast: Any, bees: str) -> None:
    data = {"name": "C", "time_zone": "UTC", "jurisdiction": "any", "bees_per_half_cup": bees}

    errors = ClubForm(data, club=cast.club).errors
    assert list(errors) == ["bees_per_half_cup"]
    assert "number" in errors["bees_per_half_cup"][0] and "equal to" not in errors["bees_per_half_cup"][0]


def test_club_keeps_an_issuer_that_left_the_tables(cast: Any) -> None:
    cast.club.action_level_issuer = "gone"
    data = {"name": "C", "time_zone": "UTC", "jurisdiction": "any", "bees_per_half_cup": "300"}

    assert ClubForm(data | {"action_level_issuer": "gone"}, club=cast.club).is_valid()
    assert "action_level_issuer" in ClubForm(data | {"action_level_issuer": "never"}, club=cast.club).errors


def test_region_name_is_taken_in_any_case(cast: Any) -> None:
    assert "already" in RegionForm({"name": "nORTH"}, club=cast.club).errors["name"][0]
