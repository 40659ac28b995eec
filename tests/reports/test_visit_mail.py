"""A planned visit and a report are one line each in the keeper's daily mail: once, without finding or figure."""

import datetime as dt

import pytest

from apiaries.actions.visits import cancel_visit, plan_visits
from apiaries.models import Person
from counts.visit_actions import keep_visit, void_visit_and_counts
from reports.models import Notice
from reports.sender import send_due
from reports.visit_notices import USEFUL_DAYS, plan_visit_notices
from tests.visiting import AT, ON, a_count, a_visit

MORNING = dt.datetime(2026, 8, 13, 6, tzinfo=dt.UTC)
COMING = ON + dt.timedelta(days=8)


@pytest.fixture(autouse=True)
def seven_in_berlin(cast):
    Person.objects.update(mail_at=dt.time(7), time_zone="Europe/Berlin")


def planned(cast, **more):
    (visit,) = plan_visits(
        yards=[cast.alice_yard], on=COMING, inspector=cast.ines, at=AT, by=cast.ines, **more
    )
    return visit


def made(cast):
    return keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)


def test_keeper_is_told_once_of_each(cast, mailoutbox):
    plan, report = planned(cast), made(cast)

    assert plan_visit_notices(at=AT) == 2
    assert plan_visit_notices(at=AT) == 0
    send_due(at=MORNING)
    assert plan_visit_notices(at=MORNING) == 0

    (mail,) = mailoutbox
    assert mail.to == [cast.alice.email] and mail.subject == "News of an inspector’s visit"
    assert "An inspector’s visit to Home yard is planned for Thu 20 Aug 2026" in mail.body
    assert "The report of the visit to Home yard on Wed 12 Aug 2026 is there" in mail.body
    for visit in (plan, report):
        assert f"/visits/{visit.pk}/" in mail.body and f"/visits/{visit.pk}/" in mail.alternatives[0].content
    assert "foulbrood" not in mail.body and "mites" not in mail.body
    assert "Stop mails about recounts and treatments" in mail.body


def test_visit_that_is_not_announced_is_not_told(cast, mailoutbox):
    planned(cast, announced=False)

    assert plan_visit_notices(at=AT) == 0


@pytest.mark.parametrize("over", ["cancelled", "voided", "no mail", "past"])
def test_what_no_longer_holds_is_not_sent(cast, mailoutbox, over):
    visit = made(cast) if over == "voided" else planned(cast)
    assert plan_visit_notices(at=AT) == 1
    when = MORNING
    if over == "cancelled":
        cancel_visit(visit=visit, why="rain", at=AT, by=cast.ines)
    elif over == "voided":
        void_visit_and_counts(visit=visit, why="wrong yard", at=AT, by=cast.ines)
    elif over == "no mail":
        Person.objects.filter(pk=cast.alice.pk).update(wants_mail=False)
    else:
        when = MORNING + dt.timedelta(days=9)

    send_due(at=when)

    assert mailoutbox == []
    if over != "past":  # the whole mail is of no use then
        assert Notice.objects.get().withdrawn_at == when


def test_old_report_is_no_news(cast):
    made(cast)

    assert plan_visit_notices(at=AT + dt.timedelta(days=USEFUL_DAYS, minutes=1)) == 0


def test_keeper_who_left_is_told_nothing(cast):
    planned(cast)
    cast.alice.memberships.update(ended_at=AT, ended_by=cast.adam)

    assert plan_visit_notices(at=AT) == 0
