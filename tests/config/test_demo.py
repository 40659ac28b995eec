"""A small demo club, made once: every answer that Recount can give is to be seen in it, and the loop goes round."""

import datetime as dt
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from apiaries.models import Club, ColonyMove, Person
from config.demo import load as loading
from config.demo.asking import ask_for_counts
from config.demo.loop import go_round
from config.demo.people import DemoClub
from config.demo.scenario import PASSWORD, Scale, keepers
from config.demo.seasons import Clock
from counts.models import CountWeek, MiteSample
from counts.samples import Method
from counts.week_progress import progress_of
from reports.models import Publication, RegionMonth, YardMonth
from treatments.models import Recount, Treatment, YardOutlook
from treatments.outcome import Verdict
from treatments.recount_rules import RecountStatus
from treatments.results import recount_statuses, results_for
from treatments.status import TreatmentStatus

pytestmark = pytest.mark.slow

NOW = dt.datetime(2026, 11, 25, 15, tzinfo=dt.UTC)
ON = NOW.date()


@pytest.fixture(scope="module")
def demo(django_db_setup: Any, django_db_blocker: Any) -> Any:
    """Loaded once for the module, and undone after it."""
    from django.db import transaction

    with django_db_blocker.unblock():
        outer = transaction.atomic()
        outer.__enter__()
        call_command("load_reference", verbosity=0)
        yield loading.load(now=NOW, scale=Scale(keepers=14, yards=26, colonies=120))
        transaction.set_rollback(True)
        outer.__exit__(None, None, None)


@pytest.fixture(autouse=True)
def in_demo(demo: Any, db: Any) -> None:
    """Every test sees the demo club and leaves it as it was."""


def test_every_verdict_occurs() -> None:
    verdicts = {result.outcome.verdict for result in results_for(Treatment.objects.standing(), ON).values()}

    assert verdicts == set(Verdict)


def test_every_recount_status_occurs() -> None:
    assert set(
        recount_statuses(Recount.objects.open() | Recount.objects.exclude(skipped_at=None), ON).values()
    ) == set(RecountStatus)


def test_every_treatment_status_occurs() -> None:
    treatments = Treatment.objects.select_related("application").prefetch_related("rounds")

    assert {treatment.status(ON) for treatment in treatments} == set(TreatmentStatus)


def test_every_method_and_oddity_occurs() -> None:
    samples = MiteSample.objects
    assert set(samples.values_list("method", flat=True)) == {method.value for method in Method}
    assert samples.filter(mites=73, bees=300).exists()
    assert samples.exclude(corrects=None).exists()
    assert samples.exclude(voided_at=None).filter(corrected_by=None).exists()
    assert samples.standing().filter(mites=0).exists()
    assert ColonyMove.objects.exists()
    assert YardMonth.objects.filter(kind="board", yard__name="Roof yard").exists()


def test_count_week_that_is_over_shows_how_it_went() -> None:
    club = Club.objects.get(is_invented=True)
    coming, past = CountWeek.objects.all()
    progress = progress_of(club, [past])[past.pk]

    assert past.last_on < ON < coming.first_on and club.count_months
    assert progress.none_is_shown and 0 < progress.none_found < progress.counts
    assert 0.2 < progress.keepers_counted / progress.keepers < 0.95
    assert 0.2 < progress.yards_counted / progress.yards < 0.95


@pytest.mark.parametrize(
    ("today", "past", "coming"),
    [(dt.date(2026, 3, 1), 2025, 2026), (dt.date(2026, 7, 5), 2025, 2027), (dt.date(2026, 7, 6), 2026, 2027)],
)
def test_count_weeks_of_the_demo_are_over_and_to_come_on_any_day(
    demo: DemoClub, today: dt.date, past: int, coming: int
) -> None:
    CountWeek.objects.all().delete()
    now = dt.datetime.combine(today, dt.time(15), tzinfo=dt.UTC)
    ask_for_counts(demo, Clock(today, now))

    weeks = [(week.first_on, week.last_on) for week in CountWeek.objects.all()]
    assert [first.year for first, _ in weeks] == [coming, past]
    assert weeks[1][1] < today < weeks[0][0]


def test_no_day_to_count_again_by_waits_to_be_worked_out() -> None:
    assert YardOutlook.objects.exists() and not YardOutlook.objects.filter(stale=True).exists()


def test_past_months_are_published_each_on_its_day() -> None:
    moments = dict(Publication.objects.values_list("month", "published_at"))

    assert len(moments) >= 24
    assert len(set(moments.values())) == len(moments)
    assert all(dt.timedelta(28) < at.date() - month < dt.timedelta(42) for month, at in moments.items())
    assert RegionMonth.objects.exclude(frozen_at=None).exclude(rate=None).exists()


def test_small_region_is_held_back_and_others_are_shown() -> None:
    held_back = RegionMonth.objects.filter(region__name="High Pasture")

    assert held_back.exists()
    assert not held_back.filter(reason="").exists()
    assert not held_back.exclude(rate=None).exists()
    assert RegionMonth.objects.filter(reason="").exclude(rate=None).exists()


def test_loop_gives_its_five_answers_twice(settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"

    first = list(go_round(NOW))

    assert [answer.found for answer in first] == [True] * 5
    assert first[3].text.startswith("worked")


def test_signs_in_as_the_demo_says(client: Client) -> None:
    keeper = Person.objects.get(email=loading.KEEPER)
    answer = client.post(reverse("account_login"), {"login": keeper.email, "password": PASSWORD})

    assert answer.status_code == 302
    assert "Demo: everything here is invented." in client.get(reverse("reports:today")).content.decode()


def test_loading_twice_or_beside_real_clubs_is_refused(capsys: Any) -> None:
    call_command("load_demo")
    assert "loaded already" in capsys.readouterr().out
    Club.objects.filter(is_invented=True).update(name="Another name")

    with pytest.raises(CommandError, match="real clubs"):
        call_command("load_demo")


def test_scale_is_kept() -> None:
    from random import Random

    plans = keepers(Scale(), Random(1))

    assert len(plans) == 60
    assert sum(len(plan.colonies) for plan in plans) == 140
    assert sum(sum(plan.colonies) for plan in plans) == 900
