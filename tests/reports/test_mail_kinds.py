"""Each kind of thing in the mail: its subject without a place, its words, and which mails its link stops."""

import datetime as dt

import pytest

from apiaries.models import Yard
from counts.models import CountWeek
from reports.links import MailKind, stop_of_token
from reports.models import Digest
from reports.planner import plan_notices
from reports.sender import send_due
from tests.reports.treating import GIVEN, at, treated
from tests.treatments.making import treat as treat_later
from treatments.actions import skip_recount
from treatments.models import Treatment

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
DAY = dt.timedelta(days=1)


@pytest.fixture(autouse=True)
def yards_of_this_spring(cast):
    """Nobody is asked for a count of days before the yard was set up."""
    Yard.objects.update(made_at=at("04-01"))


@pytest.fixture
def mail_of(mailoutbox, settings):
    """Plan and send at noon of a day; the one mail that left."""
    settings.SITE_URL = "https://recount.example.org"

    def go(day):
        moment = dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC)
        plan_notices(at=moment)
        mailoutbox.clear()
        send_due(at=moment)
        (message,) = mailoutbox
        return message

    return go


def _treat(colonies, *args, **more):
    treatment = treat_later(colonies, *args, **more)
    Treatment.objects.filter(pk=treatment.pk).update(recorded_at=at("08-06", 12))
    return treatment


def _week(cast, first=dt.date(2026, 8, 17), last=dt.date(2026, 8, 23)):
    return CountWeek.objects.create(
        club=cast.club, first_on=first, last_on=last, set_by=cast.dana, set_at=at("08-01")
    )


def _give_to_alice(cast):
    Yard.objects.filter(pk=cast.charlie_yard.pk).update(keeper=cast.alice)


def _stops(message):
    token = message.extra_headers["List-Unsubscribe"].strip("<>").rstrip("/").rpartition("/")[2]
    return stop_of_token(token).kind


@pytest.mark.parametrize(
    ("days", "subject", "words"),
    [
        (6, "Round coming up: Thu 13 Aug (1 colony)", "planned for Thu 13 Aug 2026."),
        (7, "Round due: Thu 13 Aug (1 colony)", "give round 2 (Oxalic acid"),
        (9, "Round late: it was for Thu 13 Aug (1 colony)", "Given already? Then note on which day."),
    ],
)
def test_round(cast, mail_of, days, subject, words):
    _treat([cast.colony], GIVEN, planned=[GIVEN + 7 * DAY])
    message = mail_of(GIVEN + days * DAY)

    assert message.subject == subject
    for body in (message.body, message.alternatives[0].content):
        assert words in body
        assert "Read the label and the cautions first" in body
    assert _stops(message) is MailKind.REMINDERS


@pytest.mark.parametrize(
    ("days", "subject"),
    [
        (39, "To take out soon: Thu 17 Sep (2 colonies)"),
        (42, "To take out: Thu 17 Sep (2 colonies)"),
        (50, "To take out: late since Thu 17 Sep (2 colonies)"),
    ],
)
def test_take_out(cast, mail_of, days, subject):
    treatment = _treat(cast.colonies[:2], GIVEN, way="amitraz_strip_us")
    message = mail_of(GIVEN + days * DAY)

    assert message.subject == subject
    assert "take out what was given in round 1" in message.body
    assert f"https://recount.example.org/treatments/{treatment.pk}/rounds/1/out/" in message.body


def test_clear_date(cast, mail_of):
    treatment = _treat([cast.colony], GIVEN)
    Treatment.objects.filter(pk=treatment.pk).update(withdrawal_days=10)
    message = mail_of(GIVEN + 10 * DAY)

    assert message.subject == "Clear date reached: Sun 16 Aug (1 colony)"
    assert "the withdrawal period of 10 days (Oxalic acid" in message.body
    assert "The label and local rules decide." in message.body
    assert "Remind me in three days" not in message.body
    assert "Done already?" not in message.body


def test_clear_date_stands_behind_what_is_to_be_done(cast, mail_of):
    _treat([cast.colony], GIVEN)
    Treatment.objects.update(withdrawal_days=14)
    message = mail_of(GIVEN + 14 * DAY)

    assert message.subject == "Recount due: by Thu 3 Sep (1 colony); clear date reached"


def test_count_week_begins_and_ends(cast, mail_of):
    _give_to_alice(cast)
    cast.charlie_yard.colonies.update(ended_on=GIVEN)
    _week(cast)
    begins = mail_of(dt.date(2026, 8, 17))
    assert begins.subject == "Count week: by Sun 23 Aug (6 colonies)"
    assert "A count that finds no mites counts as much as any other" in begins.body
    assert _stops(begins) is MailKind.CALLS
    assert "This mail is late" not in begins.body
    ends = mail_of(dt.date(2026, 8, 22))
    assert ends.subject == "Count week ends: by Sun 23 Aug (6 colonies)"


def test_routine_count_of_the_calendar(cast, mail_of):
    cast.club.count_months = [8]
    cast.club.save()
    cast.charlie.wants_calls = False
    cast.charlie.save()
    message = mail_of(dt.date(2026, 8, 1))

    assert message.subject == "Count asked for: by Mon 31 Aug (6 colonies)"
    assert f"https://recount.example.org/yards/{cast.alice_yard.pk}/counts/new/" in message.body
    late = mail_of(dt.date(2026, 9, 2))
    assert late.subject == "Count not made yet: it was for Mon 31 Aug (6 colonies)"


def test_call_that_opens_within_its_days_is_not_called_late(cast, mail_of):
    """The recount stood in the way until it was skipped; nobody slept."""
    recount = treated(cast.colonies[:2], on=dt.date(2026, 7, 25), saved=at("07-25", 12))
    cast.club.count_months = [8]
    cast.club.save()
    Yard.objects.filter(pk=cast.charlie_yard.pk).update(closed_on=GIVEN)
    mail_of(dt.date(2026, 8, 8))
    skip_recount(recount=recount, why="no time", at=at("08-09"), by=cast.alice)
    message = mail_of(dt.date(2026, 8, 10))

    assert message.subject == "Count asked for: by Mon 31 Aug (6 colonies)"
    assert "This mail is late" not in message.body


def test_mail_with_both_kinds_can_stop_either(cast, mail_of):
    treated(list(cast.charlie_yard.colonies.all()))
    _give_to_alice(cast)  # a recount there, a count week here
    _week(cast, dt.date(2026, 8, 20), dt.date(2026, 8, 26))
    message = mail_of(dt.date(2026, 8, 20))

    assert message.subject == "2 things to do, the first by Wed 26 Aug"
    assert _stops(message) is MailKind.REMINDERS
    for body in (message.body, message.alternatives[0].content):
        assert "Stop mails about recounts and treatments" in body
        assert "Stop calls for counts" in body


@pytest.mark.parametrize("field", ["wants_mail", "wants_calls"])
def test_who_stopped_one_kind_gets_the_other(cast, mail_of, field):
    treated(list(cast.charlie_yard.colonies.all()))
    _give_to_alice(cast)
    setattr(cast.alice, field, False)
    cast.alice.save()
    _week(cast, dt.date(2026, 8, 20), dt.date(2026, 8, 26))
    message = mail_of(dt.date(2026, 8, 20))

    only = "Count week: by Wed 26 Aug (6 colonies)"
    assert message.subject == (only if field == "wants_mail" else "Recount due: by Thu 3 Sep (2 colonies)")


def test_stopped_after_planning_is_not_sent(cast, mailoutbox):
    _week(cast)
    moment = at("08-17", 4)
    plan_notices(at=moment)
    for person in (cast.alice, cast.charlie):
        person.wants_calls = False
        person.save()
    send_due(at=moment + dt.timedelta(hours=2))

    assert mailoutbox == []
    assert set(Digest.objects.values_list("state", flat=True)) == {"empty"}
