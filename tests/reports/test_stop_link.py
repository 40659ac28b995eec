"""One click stops a kind of mail (RFC 8058, from memory), and nothing that somebody typed gets into a heading."""

import pytest
from django.core import mail as outbox
from django.core import signing
from django.test import Client
from django.urls import reverse

from reports.links import STOP_SALT, MailKind, stop_token
from reports.models import Digest, DigestState
from reports.owed import owed_notices
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.access.facts import number_of_rows
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated

pytestmark = pytest.mark.usefixtures("reference")
DUE = at("08-20", 5)
ONE_CLICK = {"List-Unsubscribe": "One-Click"}
HEADINGS = {
    "content-type", "mime-version", "subject", "from", "to", "date", "message-id", "auto-submitted",
    "list-unsubscribe", "list-unsubscribe-post",
}  # fmt: skip


@pytest.fixture
def office(settings):
    with open_post_office() as office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
        settings.SITE_URL = "https://recount.example.org"
        yield office


def _link_in(mail):
    return mail["List-Unsubscribe"].strip().strip("<>").removeprefix("https://recount.example.org")


def _strict():
    """A mail program: no cookie, no token of a form."""
    return Client(enforce_csrf_checks=True)


def test_one_click_holds_from_the_next_run_on(cast, office):
    treated(cast.colonies[:3])
    plan_notices(at=DUE)
    send_due(at=DUE)
    link = _link_in(office.taken[0])
    late = at("09-04", 5)
    plan_notices(at=late)
    assert Digest.objects.filter(state=DigestState.PENDING).count() == 1

    assert _strict().post(link, ONE_CLICK).status_code == 200

    assert send_due(at=late) == {Outcome.EMPTY: 1}
    assert owed_notices(at=late) == []
    assert len(office.taken) == 1


def test_scanner_that_looks_changes_nothing(cast):
    link = reverse("reports:mail-stop", args=[stop_token(cast.alice)])
    before = number_of_rows()
    for verb in ("get", "head", "get"):
        assert getattr(_strict(), verb)(link).status_code == 200
    assert number_of_rows() == before


def test_second_click_leaves_no_trace(cast):
    link = reverse("reports:mail-stop", args=[stop_token(cast.alice)])
    _strict().post(link, ONE_CLICK)
    before = number_of_rows()

    assert _strict().post(link, ONE_CLICK).status_code == 200

    assert number_of_rows() == before
    cast.alice.refresh_from_db()
    assert not cast.alice.wants_mail


def test_link_stops_one_persons_mail_and_keeps_the_rest_of_them(cast):
    before = (cast.alice.name, cast.alice.time_zone, cast.alice.mail_at)
    _strict().post(reverse("reports:mail-stop", args=[stop_token(cast.alice)]), ONE_CLICK)

    for person in (cast.alice, cast.bob):
        person.refresh_from_db()
    assert (cast.alice.name, cast.alice.time_zone, cast.alice.mail_at) == before
    assert (cast.alice.wants_mail, cast.bob.wants_mail) == (False, True)


KINDS = {
    MailKind.REMINDERS: "wants_mail",
    MailKind.CALLS: "wants_calls",
    MailKind.BULLETINS: "wants_bulletins",
}


@pytest.mark.parametrize("kind", MailKind)
def test_link_stops_its_kind_only_and_says_how_to_want_it_again(cast, kind):
    link = reverse("reports:mail-stop", args=[stop_token(cast.alice, kind)])
    asked = _strict().get(link).content.decode()
    said = _strict().post(link, ONE_CLICK).content.decode()

    cast.alice.refresh_from_db()
    for other, wish in KINDS.items():
        assert getattr(cast.alice, wish) == (other is not kind)
    words = {
        MailKind.REMINDERS: "recounts and treatments",
        MailKind.CALLS: "calls for counts",
        MailKind.BULLETINS: "lines about bulletins",
    }[kind]
    assert f"top {words}?" in asked or f"mails about {words}?" in asked
    assert f"<h1>No more mails about {words}</h1>" in said or f"<h1>No more {words}</h1>" in said
    assert 'href="/me/#mails"' in said
    again = number_of_rows()
    assert _strict().post(link, ONE_CLICK).status_code == 200
    assert number_of_rows() == again


def test_link_to_stop_what_is_not_wanted_anyway_says_so_at_once(cast):
    cast.alice.wants_calls = False
    cast.alice.save()

    page = _strict().get(reverse("reports:mail-stop", args=[stop_token(cast.alice, MailKind.CALLS)]))

    assert "<h1>No more calls for counts</h1>" in page.content.decode()
    assert "<form" not in page.content.decode().partition("<main")[2]


def test_forged_links_change_nothing(cast):
    payload, _, rest = stop_token(cast.alice).partition(":")
    bobs = stop_token(cast.bob).partition(":")[0]
    before = number_of_rows()
    for token in (
        f"{bobs}:{rest}",
        f"{payload}:",
        signing.dumps([cast.alice.pk, MailKind.REMINDERS.value]),
        signing.dumps([cast.alice.pk, MailKind.REMINDERS.value], key="another", salt=STOP_SALT),
        stop_token(cast.alice)[:-1],
        stop_token(cast.alice, MailKind.CALLS).partition(":")[0] + f":{rest}",
    ):
        assert _strict().post(f"/mail/stop/{token}/", ONE_CLICK).status_code == 404
    assert number_of_rows() == before


def test_links_of_mails_sent_before_there_were_kinds_still_work(cast):
    old = signing.dumps(cast.alice.pk, salt="reports.stop-mails")

    assert _strict().post(f"/mail/stop/{old}/", ONE_CLICK).status_code == 200

    cast.alice.refresh_from_db()
    assert not cast.alice.wants_mail


def test_mails_about_the_account_cannot_be_stopped(cast):
    Client().post(reverse("account_reset_password"), {"email": cast.alice.email})
    Client().post(reverse("account_request_login_code"), {"email": cast.alice.email})

    assert len(outbox.outbox) == 2
    for mail in outbox.outbox:
        assert not [name for name in mail.message() if name.lower().startswith("list-")]
