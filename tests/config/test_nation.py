"""The invented country for measuring: its counts are as the actions would have kept them, only written quicker."""

import datetime as dt
from typing import Any

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.db.models import F
from django.test import Client
from django.urls import reverse

from apiaries.models import Club, Colony, Region, Yard
from config.demo.nation import REGIONS
from config.demo.nation_counts import FIRST_YEAR, SKIPPED_AFTER, YEARS
from config.demo.nation_load import fill
from counts.actions import estimate_of
from counts.constants import DEFAULTS
from counts.models import MiteSample
from counts.samples import Method, problems_of
from reports.figures import recompute_all, write_anew
from reports.models import RegionMonth, YardMonth
from treatments.models import Recount, Round, Treatment
from treatments.recount_rules import recount_window

pytestmark = pytest.mark.slow

NOW = dt.datetime(2026, 11, 25, 15, tzinfo=dt.UTC)
SAMPLES = 4000


@pytest.fixture(scope="module")
def country(django_db_setup: Any, django_db_blocker: Any) -> Any:
    """Made once for the module, and undone after it."""
    with django_db_blocker.unblock():
        outer = transaction.atomic()
        outer.__enter__()
        call_command("load_reference", verbosity=0)
        said: list[str] = []
        fill(samples=SAMPLES, at=NOW, say=said.append)
        yield said
        transaction.set_rollback(True)
        outer.__exit__(None, None, None)


@pytest.fixture(autouse=True)
def in_country(country: Any, db: Any) -> None:
    """Every test sees the country and leaves it as it was."""


def test_there_is_as_much_as_was_said(country: list[str]) -> None:
    numbers = [int(said.split()[0].replace(",", "")) for said in country]
    assert numbers[:3] == [Yard.objects.count(), Treatment.objects.count(), MiteSample.objects.count()]
    assert MiteSample.objects.count() == pytest.approx(SAMPLES, rel=0.05)
    assert Treatment.objects.count() == Round.objects.count()
    assert f"{Colony.objects.count():,} colonies" in country[0]
    assert Club.objects.get().is_invented


def test_regions_and_keepers_are_of_very_different_size() -> None:
    sizes = sorted(region.yards.count() for region in Region.objects.all())
    owned = list(Yard.objects.values_list("keeper", flat=True))

    assert len(sizes) == REGIONS
    assert sizes[-1] > 5 * sizes[REGIONS // 2]
    assert max(owned.count(keeper) for keeper in set(owned)) >= 5


def test_counts_are_possible_and_lie_where_their_colony_stands() -> None:
    assert not MiteSample.objects.exclude(colony__yard=F("yard")).exists()
    assert not MiteSample.objects.exclude(recorded_by=F("yard__keeper")).exists()
    assert {Method(one) for one in MiteSample.objects.values_list("method", flat=True)} == {
        Method.ALCOHOL_WASH,
        Method.SOAP_WASH,
        Method.SUGAR_ROLL,
        Method.BOARD,
    }
    for sample in MiteSample.objects.order_by("entry_key")[:300]:
        value = sample.as_value()
        assert value is not None and problems_of(value) == ()
        said = estimate_of(value, treatment_in_hive=False, constants=DEFAULTS)
        assert said is not None
        kept = (sample.rate, sample.low, sample.high, sample.exposure, sample.squared_cv)
        assert kept == pytest.approx((said.rate, said.low, said.high, said.exposure, said.c2))


def test_every_treatment_has_the_recount_that_the_actions_would_have_set() -> None:
    treatments = Treatment.objects.select_related("application", "recount").prefetch_related("rounds")
    assert not treatments.filter(recount=None).exists()
    for treatment in treatments.order_by("pk")[:50]:
        rule, recount, last = treatment.application.recount_rule, treatment.recount, treatment.finished_on()
        assert last is not None
        assert recount.window == recount_window(rule, last)
        assert (recount.kind, recount.reason, recount.source) == (rule.kind, rule.reason, rule.source)


def test_keepers_said_of_earlier_years_why_there_was_no_recount() -> None:
    last_year = dt.date(FIRST_YEAR + YEARS - 1, 1, 1)
    said = Recount.objects.exclude(skipped_at=None)
    open_ones = Recount.objects.filter(skipped_at=None)

    assert min(said.count(), open_ones.count()) > Yard.objects.count()
    assert not said.filter(treatment__rounds__given_on__gte=last_year).exists()
    assert not open_ones.filter(treatment__rounds__given_on__lt=last_year).exists()
    assert not said.exclude(skipped_by=F("treatment__yard__keeper")).exists()
    one = said.earliest("pk")
    assert one.skipped_at is not None and one.skipped_at < NOW
    assert (one.skipped_at.date() - one.latest_on).days == SKIPPED_AFTER
    assert one.skipped_why == "nobody counted in time"


def test_a_yard_with_counts_and_treatments_can_be_looked_at(client: Client) -> None:
    yard = Yard.objects.filter(treatments__isnull=False, samples__isnull=False).earliest("pk")
    client.force_login(yard.keeper, backend=settings.AUTHENTICATION_BACKENDS[0])

    answer = client.get(reverse("apiaries:yard-detail", args=[yard.pk]))

    assert answer.status_code == 200
    assert yard.name in answer.content.decode()


def test_figures_made_anew_agree_with_the_counts() -> None:
    write_anew(at=NOW)

    assert sum(YardMonth.objects.values_list("samples", flat=True)) == MiteSample.objects.count()
    assert RegionMonth.objects.filter(part="all", reason="").exists()
    assert YardMonth.objects.exclude(treated_days=None).exists()
    assert recompute_all(at=NOW) == []


def test_indexes_are_there_as_before() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT indexname FROM pg_indexes WHERE tablename = 'counts_mitesample'")
        names = {name for (name,) in cursor.fetchall()}

    assert {index.name for index in MiteSample._meta.indexes} < names
    assert any(name.startswith("counts_mitesample_recorded_by_id") for name in names)


def test_history_is_written_again_afterwards() -> None:
    sample = MiteSample.objects.earliest("pk")
    MiteSample.objects.filter(pk=sample.pk).update(note="seen")

    assert sample.events.count() == 1  # what the loading left out is not written later either


@pytest.mark.parametrize(("samples", "why"), [("0", "1 or more"), ("100", "empty database")])
def test_refuses_beside_clubs_and_without_counts(samples: str, why: str) -> None:
    with pytest.raises(CommandError, match=why):
        call_command("make_region_load", "--samples", samples)
