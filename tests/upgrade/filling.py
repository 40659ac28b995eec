"""An invented club with something in every table, made by the code of the release that runs this.

Nobody in it exists. What the release's own tests and its demo make comes first (the world of tests/access, the
awkward keeper of tests/flows, the small demo); here is only what those leave out.
"""

import datetime as dt
import re
from html import unescape

from allauth.account.models import EmailAddress, EmailConfirmation
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse

from apiaries.actions.leaving import ask_to_leave, forget_person
from apiaries.models import How, Person
from config.demo.load import load
from config.demo.loop import go_round
from config.demo.scenario import Scale
from counts.change_actions import restore_sample
from counts.imports.actions import bring_in_sheet, remember_headings
from counts.imports.columns import Column, Meaning
from counts.models import MiteSample
from counts.week_actions import leave_out_count
from reports.export.writing import Form
from reports.models import Digest, MailOutage, Suspension
from reports.planner import plan_notices
from reports.sender import send_due
from tests.access.world import World, make_world
from tests.cast import Cast, make_cast
from tests.counts.importing import GOOD, sheet_of
from tests.flows.forms import send
from tests.flows.nasty import make_nasty
from tests.flows.test_round_trip import file_of
from tests.reports.post_office import open_post_office

SIGNED_IN = ("alice", "dana", "ines", "adam")
DEMO_KEEPER = "keeper@example.org"
SMALL = Scale(keepers=8, yards=14, colonies=50)


def fill(at: dt.datetime) -> tuple[Cast, World]:
    """All of it, at that moment; the people of the first club, and what its addresses point at."""
    call_command("load_reference", verbosity=0)
    elsewhere = _file_from_elsewhere()
    cast = make_cast()
    world = make_world(cast)
    make_nasty(cast)
    load(now=at, scale=SMALL)
    _mails(at)
    _odd_counts(cast, at)
    _take_along(cast, elsewhere)
    _leave(at)
    _accounts(cast)
    return cast, world


def _odd_counts(cast: Cast, at: dt.datetime) -> None:
    """A sheet brought in, headings remembered, a count restored, one that will not be made."""
    bring_in_sheet(batch=sheet_of(cast.alice, GOOD.replace("08-12", "08-27")), at=at, by=cast.alice)
    remember_headings(
        club=cast.club, meanings={"hive": Meaning(Column.COLONY), "weather": None}, at=at, by=cast.dana
    )
    voided = MiteSample.objects.exclude(voided_at=None).filter(corrected_by=None, yard__keeper=cast.alice)
    assert voided.exists()
    restore_sample(sample=voided.earliest("pk"), why="the right jar after all", at=at, by=cast.alice)
    leave_out_count(yard=cast.alice_yard, subject="week:1:1", why="rain", at=at, by=cast.alice)


def _file_from_elsewhere() -> bytes:
    """All that a keeper took along from another server: here it was never kept."""
    with transaction.atomic():
        cast = make_cast()
        make_nasty(cast)
        file = file_of(cast.alice, Form.JSON)
        transaction.set_rollback(True)
    return file


def _take_along(cast: Cast, elsewhere: bytes) -> None:
    """One file came back and is brought in, the same waits for another owner."""
    for person, name in ((cast.bob, "waits"), (cast.charlie, "brought")):
        browser = signed_in(person)
        file = SimpleUploadedFile("mine.json", elsewhere, "application/json")
        answer = browser.post(reverse("reports:bring-back"), {"file": file})
        assert answer.status_code == 302, answer.content.decode()
        if name == "brought":
            assert send(browser, answer["Location"], {}).status_code == 302


def _leave(at: dt.datetime) -> None:
    """One demo keeper wants to be forgotten in a week; another one is, and their record lies under lock."""
    others = Person.objects.exclude(email=DEMO_KEEPER).filter(memberships__club__is_invented=True)
    going, gone = others.filter(yards__treatments__isnull=False).distinct().order_by("pk")[:2]
    ask_to_leave(person=going, how=How.OWN, at=at, by=going)
    forget_person(leaving=ask_to_leave(person=gone, how=How.OWN, at=at, now=True, by=gone), at=at, by=gone)


def _mails(at: dt.datetime) -> None:
    """An outage that ended, a mail refused for good with its address suspended, the others sent."""
    plan_notices(at=at)
    due = Digest.objects.filter(state="pending", next_at__lte=at).select_related("person").order_by("pk")
    refused = due[0].person.email
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9  # nobody listens there
    send_due(at=at)
    with open_post_office() as office:
        settings.EMAIL_PORT = office.port
        office.rcpt_answers[refused] = "550 5.1.1 no such mailbox"
        send_due(at=at + dt.timedelta(minutes=5))
        for answer in go_round(at + dt.timedelta(minutes=10)):
            assert answer.found, answer
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    assert MailOutage.objects.exclude(ended_at=None).exists()
    assert Suspension.objects.exists()


def _accounts(cast: Cast) -> None:
    """Addresses that were confirmed and one that was not, a second step, something put off on the list of the day."""
    for name in SIGNED_IN:
        person = getattr(cast, name)
        EmailAddress.objects.create(user=person, email=person.email, primary=True, verified=True)
    TOTP.activate(cast.ivan, generate_totp_secret())
    RecoveryCodes.activate(cast.ivan)
    EmailConfirmation.create(EmailAddress.objects.order_by("pk").first()).save()
    browser = signed_in(Person.objects.get(email=DEMO_KEEPER))
    today = browser.get(reverse("reports:today")).content.decode()
    found = re.search(r'name="subject" value="([^"]+)"', today)
    assert found, "nothing on the list of the day"
    later = reverse("reports:today-later")
    assert browser.post(later, {"subject": unescape(found[1])}).status_code == 302


def signed_in(person: Person) -> Client:
    """A browser of this person, signed in as the release does it; a session that lasts."""
    client = Client()
    client.force_login(person, backend=settings.AUTHENTICATION_BACKENDS[0])
    return client


def sign_in_by_page(person: Person, password: str) -> str:
    """The session of somebody who typed their password."""
    client = Client()
    answer = client.post(reverse("account_login"), {"login": person.email, "password": password})
    assert answer.status_code == 302, answer.content.decode()
    assert "_auth_user_id" in client.session, answer["Location"]
    return client.cookies[settings.SESSION_COOKIE_NAME].value
