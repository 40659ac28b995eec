"""An issued bulletin is one line in the daily mail of every member who wants it: once, in their hours."""

import datetime as dt

import pytest

from apiaries.models import Person
from reports.bulletin_actions import issue_bulletin, make_bulletin, mark_of, withdraw_bulletin
from reports.bulletin_notices import USEFUL_DAYS, plan_bulletins
from reports.links import MailKind, stop_of_token
from reports.models import Bulletin, Digest, Notice, Publication, Suspension
from reports.planner import plan_notices
from reports.sender import send_due
from tests.reports.treating import at, treated

pytestmark = pytest.mark.django_db
JULY = dt.date(2026, 7, 1)
ISSUED = at("08-19", 12)
MORNING = at("08-20", 6)
NEWS = "The club’s bulletin for July 2026 is there: http"


@pytest.fixture
def issued(cast, reference) -> Bulletin:
    """July's, issued by Dana on 19 Aug."""
    Person.objects.update(mail_at=dt.time(7), time_zone="Europe/Berlin")
    Publication.objects.create(club=cast.club, month=JULY, published_at=ISSUED)
    draft = make_bulletin(club=cast.club, month=JULY, at=ISSUED, by=None)
    return issue_bulletin(bulletin=draft, seen=mark_of(draft), at=ISSUED, by=cast.dana)


def _sent(mailoutbox):
    return sorted(message.to[0] for message in mailoutbox)


def _members(cast, *but):
    club = [cast.alice, cast.bob, cast.charlie, cast.ines, cast.ivan, cast.adam]
    return sorted(person.email for person in club if person not in but)


def test_every_member_but_the_issuer_gets_one_line_once(cast, issued, mailoutbox):
    assert plan_bulletins(at=ISSUED) == 6
    assert plan_bulletins(at=ISSUED) == 0
    send_due(at=ISSUED)
    send_due(at=MORNING)
    assert _sent(mailoutbox) == _members(cast)
    assert plan_bulletins(at=MORNING) == 0

    (mail,) = (one for one in mailoutbox if one.to == [cast.charlie.email])
    assert mail.subject == "The club’s bulletin for July 2026"
    assert NEWS in mail.body and f"/bulletins/{issued.pk}/" in mail.body
    assert f"/bulletins/{issued.pk}/" in mail.alternatives[0].content
    assert "Done already?" not in mail.body


def test_mail_of_a_bulletin_alone_is_stopped_by_its_own_link(cast, issued, mailoutbox):
    plan_bulletins(at=ISSUED)
    send_due(at=MORNING)
    mail = mailoutbox[0]
    token = mail.extra_headers["List-Unsubscribe"].strip("<>").rstrip("/").rpartition("/")[2]
    stop = stop_of_token(token)
    assert (stop.kind, stop.person.email) == (MailKind.BULLETINS, mail.to[0])
    assert mail.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert "Stop lines about bulletins" in mail.body


def test_bulletin_rides_in_the_mail_of_the_day_whose_subject_stays(cast, issued, mailoutbox):
    treated(cast.colonies[:3])
    plan_notices(at=MORNING)
    plan_bulletins(at=MORNING)
    send_due(at=MORNING)
    (mail,) = (one for one in mailoutbox if one.to == [cast.alice.email])
    assert mail.subject.startswith("Recount due: by") and "bulletin" not in mail.subject
    assert NEWS in mail.body
    assert (
        "Stop mails about recounts and treatments" in mail.body and "Stop lines about bulletins" in mail.body
    )


def test_never_a_second_mail_on_one_day(cast, issued, mailoutbox):
    treated(cast.colonies[:3])
    plan_notices(at=MORNING)
    send_due(at=MORNING)
    assert _sent(mailoutbox) == [cast.alice.email]
    plan_bulletins(at=MORNING)
    send_due(at=MORNING + dt.timedelta(hours=3))
    assert _sent(mailoutbox) == sorted([cast.alice.email, *_members(cast, cast.alice)])
    send_due(at=MORNING + dt.timedelta(days=1))
    assert _sent(mailoutbox).count(cast.alice.email) == 2


def test_quiet_days_and_hours_are_kept(cast, issued, mailoutbox):
    Person.objects.filter(pk=cast.bob.pk).update(quiet_days=[3])  # 20 Aug 2026 is a Thursday
    night = at("08-19", 21)  # 23:00 in Berlin
    plan_bulletins(at=night)
    send_due(at=night)
    assert mailoutbox == []
    send_due(at=MORNING)
    assert _sent(mailoutbox) == _members(cast, cast.bob)
    send_due(at=MORNING + dt.timedelta(days=1))
    assert _sent(mailoutbox) == _members(cast)


@pytest.mark.parametrize("when", ["before", "after"])
def test_who_wants_none_gets_none_planned_or_not(cast, issued, mailoutbox, when):
    if when == "after":
        plan_bulletins(at=ISSUED)
    Person.objects.filter(pk=cast.bob.pk).update(wants_bulletins=False)
    plan_bulletins(at=ISSUED)
    send_due(at=MORNING)
    assert _sent(mailoutbox) == _members(cast, cast.bob)


def test_withdrawn_before_it_is_sent_is_told_nobody(cast, issued, mailoutbox):
    plan_bulletins(at=ISSUED)
    withdraw_bulletin(bulletin=issued, why="Wrong.", at=ISSUED, by=cast.dana)
    send_due(at=MORNING)
    assert mailoutbox == []
    assert set(Digest.objects.values_list("state", flat=True)) == {"empty"}
    assert not Notice.objects.filter(withdrawn_at=None).exists()


def test_who_left_the_club_hears_no_more(cast, issued, mailoutbox):
    plan_bulletins(at=ISSUED)
    cast.bob.memberships.update(ended_at=ISSUED, ended_by=cast.adam)
    send_due(at=MORNING)
    assert _sent(mailoutbox) == _members(cast, cast.bob)


def test_other_clubs_drafts_and_old_ones_are_no_news(cast, issued, mailoutbox):
    late = ISSUED + dt.timedelta(days=USEFUL_DAYS)
    assert plan_bulletins(at=late) == 0
    Publication.objects.create(club=cast.club, month=dt.date(2026, 6, 1), published_at=ISSUED)
    make_bulletin(club=cast.club, month=dt.date(2026, 6, 1), at=ISSUED, by=None)
    plan_bulletins(at=ISSUED)
    assert set(Notice.objects.values_list("subject", flat=True)) == {f"bulletin:{issued.pk}"}
    assert cast.zoe.pk not in Notice.objects.values_list("person", flat=True)


def test_address_that_refuses_mail_gets_none_planned(cast, issued):
    Suspension.objects.create(person=cast.bob, email=cast.bob.email, why="gone", since=ISSUED)
    assert plan_bulletins(at=ISSUED) == 5
