"""The day on which the keeper's label says to take something out: where nobody published the days, or other ones."""

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from reports.models import Digest, DigestState, Notice
from reports.planner import plan_notices
from tests.cast import Cast
from tests.treatments.making import GIVEN, treat
from treatments.actions import AlreadyClosed, NotPossible, set_out_by, take_out
from treatments.due import DueKind, Urgency, due_list
from treatments.models import Dose, Recount, Treatment

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
DAY = dt.timedelta(days=1)
OUT = GIVEN + 20 * DAY
NOON = dt.datetime.combine(GIVEN + DAY, dt.time(12), tzinfo=dt.UTC)


@pytest.fixture
def in_hive(cast: Cast) -> Treatment:
    """Formic acid of a kind whose days only the label tells."""
    treatment = treat([cast.colony], way="formic_other_any")
    Treatment.objects.update(recorded_at=NOON)
    return treatment


def _set(cast: Cast, treatment: Treatment, day: dt.date = OUT) -> None:
    set_out_by(round_=treatment.rounds.get(), out_by=day, at=NOON, by=cast.alice)


def test_without_it_the_list_asks_for_it_and_no_mail_comes(cast: Cast, in_hive: Treatment) -> None:
    (item,) = due_list(cast.alice, GIVEN + DAY)

    assert (item.action, item.url) == ("Enter the label’s day", f"/treatments/{in_hive.pk}/rounds/1/out-by/")
    assert plan_notices(at=NOON + 30 * DAY) == 0


def test_with_it_the_list_and_the_mail_tell_the_day(cast: Cast, in_hive: Treatment) -> None:
    _set(cast, in_hive)
    (item,) = due_list(cast.alice, OUT + DAY)
    assert (item.kind, item.on, item.urgency, item.action) == (
        DueKind.TAKE_OUT,
        OUT,
        Urgency.LATE,
        "Note it is out",
    )
    for days in range(40):
        plan_notices(at=NOON + days * DAY)
        Digest.objects.filter(state=DigestState.PENDING).update(state=DigestState.EMPTY)
    assert list(Notice.objects.values_list("kind", "on")) == [
        ("out_soon", OUT - 3 * DAY),
        ("out_due", OUT),
        ("out_late", OUT + DAY),
    ]


def test_the_recount_and_the_days_in_the_hive_follow_it(cast: Cast, in_hive: Treatment) -> None:
    before = Recount.objects.get()
    _set(cast, in_hive)
    after = Recount.objects.get()

    assert after.ideal_on - before.ideal_on == OUT - GIVEN
    assert Dose.objects.get().in_hive.upper == OUT + DAY
    take_out(round_=in_hive.rounds.get(), out_on=OUT - 5 * DAY, at=NOON + 60 * DAY, by=cast.alice)
    assert Recount.objects.get().ideal_on == after.ideal_on - 5 * DAY  # what was done wins


def test_it_goes_before_the_published_days(cast: Cast) -> None:
    treatment = treat([cast.colony], way="amitraz_strip_us")  # 42 days published
    _set(cast, treatment, GIVEN + 56 * DAY)

    (item,) = due_list(cast.alice, GIVEN + 50 * DAY)
    assert (item.on, item.urgency) == (GIVEN + 56 * DAY, Urgency.COMING)


def test_nothing_in_the_hive_or_a_day_before_is_refused(cast: Cast, in_hive: Treatment) -> None:
    with pytest.raises(NotPossible):
        _set(cast, in_hive, GIVEN - DAY)
    take_out(round_=in_hive.rounds.get(), out_on=GIVEN + DAY, at=NOON, by=cast.alice)
    with pytest.raises(AlreadyClosed):
        _set(cast, in_hive)


def test_page_saves_the_day_and_keeps_what_was_typed_wrong(
    cast: Cast, in_hive: Treatment, client_for
) -> None:  # type: ignore[no-untyped-def]
    url = reverse("treatments:round-out-by", args=[in_hive.pk, 1])
    client = client_for(cast.alice)
    with time_machine.travel(NOON, tick=False):
        for wrong in ("", "never", "1 Jul 2026", "1 Jan 2027"):
            page = client.post(url, {"out_by": wrong})
            assert page.status_code == 200
            assert page.context["form"].errors["out_by"]
            assert f'value="{wrong}"' in page.content.decode() or not wrong
        saved = client.post(url, {"out_by": "23 Aug 2026"}, follow=True)
        take_out(round_=in_hive.rounds.get(), out_on=GIVEN, at=NOON, by=cast.alice)
        again = client.post(url, {"out_by": "23 Aug 2026"}, follow=True)

    assert "To be taken out on Sun 23 Aug 2026." in saved.content.decode()
    assert "Nothing of this round is in the hives." in again.content.decode()
