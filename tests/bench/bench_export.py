"""How long ten years of one member take to leave and to come back, and how much memory.

    .venv/bin/python -m pytest tests/bench/bench_export.py -s

60 colonies in five yards, counted ten times and treated three times a year: 6,000 counts and 30 rounds of 12 doses a
yard. The bar is 60 s (docs/reference/figures.md).
"""

import datetime as dt
import io
import time
import tracemalloc
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import transaction

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Person
from counts.actions import NewCount, record_samples
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from reports.export.reading import read_export
from reports.export.returning import bring_back
from reports.export.writing import Form, write_export
from tests.cast import Cast, make_cast
from treatments.actions import NewDose, NewRound, NewTreatment, record_treatment
from treatments.models import Application

YEARS, YARDS, COLONIES = range(2016, 2026), 5, 12
AT = dt.datetime(2036, 1, 1, tzinfo=dt.UTC)  # after whatever the clock says
MOST_SECONDS = 60


def _ten_years(cast: Cast) -> None:
    way = Application.objects.get(key="formic_gel_strip_us")
    for number in range(YARDS):
        yard = add_yard(keeper=cast.alice, region=cast.north, name=f"Yard {number}", by=cast.alice)
        colonies = add_numbered_colonies(
            yard=yard, first=1, last=COLONIES, started_on=dt.date(2016, 1, 1), by=cast.alice
        )
        for year in YEARS:
            for month in range(2, 12):
                day = dt.date(year, month, 3)
                counts = [
                    NewCount(one, Method.ALCOHOL_WASH, day, (one.pk + month) % 19, 300, BeesBy.VOLUME)
                    for one in colonies
                ]
                record_samples(counts=counts, at=AT, by=cast.alice)
            for month in (3, 7, 10):
                day = dt.date(year, month, 5)
                doses = tuple(NewDose(one, Decimal(2)) for one in colonies)
                record_treatment(
                    new=NewTreatment(yard, way, (NewRound(day, day, day, doses),)), at=AT, by=cast.alice
                )


@pytest.mark.slow
def test_ten_years_leave_and_come_back(django_db_setup: object, django_db_blocker: object) -> None:
    with django_db_blocker.unblock(), transaction.atomic():
        call_command("load_reference", verbosity=0)
        files = {}
        with transaction.atomic():
            cast = make_cast()
            _ten_years(cast)
            person = Person.objects.get(pk=cast.alice.pk)
            for form in Form:
                file, began = io.BytesIO(), time.perf_counter()
                write_export(person, form, file, at=AT)
                took = time.perf_counter() - began
                files[form] = file.getvalue()
                tracemalloc.start()
                write_export(person, form, io.BytesIO(), at=AT)
                peak = tracemalloc.get_traced_memory()[1]
                tracemalloc.stop()
                print(
                    f"{form}: left in {took:.1f} s, {len(files[form]) / 1024:.0f} kB, peak {peak / 1024**2:.0f} MB"
                )
                assert took < MOST_SECONDS
            transaction.set_rollback(True)
        for form in Form:
            with transaction.atomic():
                cast = make_cast()
                began = time.perf_counter()
                package = read_export(files[form])
                read = time.perf_counter() - began
                bring_back(
                    package=package,
                    regions={"North": cast.north},
                    person=cast.charlie,
                    at=AT,
                    by=cast.charlie,
                )
                took = time.perf_counter() - began
                print(
                    f"{form}: read in {read:.1f} s, back in {took:.1f} s, {MiteSample.objects.count()} counts"
                )
                assert took < MOST_SECONDS
                transaction.set_rollback(True)
        transaction.set_rollback(True)
