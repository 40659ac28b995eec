"""The form of a heater sent twice at the same instant, in two real transactions: one heater."""

import datetime as dt
import threading
from decimal import Decimal

import pytest
from django.db import connection

from tests.cast import make_cast
from treatments.device_actions import AlreadyThere, add_device
from treatments.models import Device

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]
AT = dt.datetime(2026, 8, 12, 9, tzinfo=dt.UTC)
FACTS = {"name": "pan", "watts": Decimal(150), "volts": Decimal(12)}


def test_two_forms_at_once_add_one_heater():
    alice = make_cast().alice
    start, answers = threading.Barrier(4), []

    def send():
        try:
            start.wait()
            answers.append(add_device(keeper=alice, facts=FACTS, at=AT, by=alice).name)
        except AlreadyThere:
            answers.append("already there")
        finally:
            connection.close()

    threads = [threading.Thread(target=send) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(answers) == ["already there", "already there", "already there", "pan"]
    assert Device.objects.count() == 1
