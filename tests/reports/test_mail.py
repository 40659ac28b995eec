"""The daily mail as it arrives: subject without a place, text and HTML alike, headings that nobody can add to."""

import datetime as dt

import pytest
from django.test import Client

from apiaries.models import Person, Yard
from reports.planner import plan_notices
from reports.sender import send_due
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated

pytestmark = pytest.mark.usefixtures("reference")
DUE = at("08-20", 5)


@pytest.fixture
def arrived(settings):
    """Plan and send at a moment; the mails that arrived."""
    with open_post_office() as office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
        settings.SITE_URL = "https://recount.example.org"

        def go(moment=DUE):
            plan_notices(at=moment)
            send_due(at=moment)
            return office.taken

        yield go


def _both(mail):
    return [mail.get_body((kind,)).get_content() for kind in ("plain", "html")]


def test_mail_says_what_by_when_and_why_in_text_and_html(cast, arrived):
    treated(cast.colonies[:3])
    (mail,) = arrived()

    assert mail.get_content_type() == "multipart/alternative"
    assert mail["Subject"] == "Recount due: by Thu 3 Sep (3 colonies)"
    for body in _both(mail):
        words = " ".join(body.split())
        assert "Home yard" in words
        assert "count mites again in 3 treated colonies" in words
        assert "best on Thu 20 Aug 2026, from Thu 20 Aug 2026 to Thu 3 Sep 2026" in words
        assert "Brood that was capped during the treatment has hatched by then, plus two days." in words
        assert "https://recount.example.org/recount/" in words
        assert "This mail is late" not in words


def test_mail_has_the_headings_of_an_automatic_mail_that_can_be_stopped(cast, arrived):
    treated(cast.colonies[:3])
    (mail,) = arrived()
    link = mail["List-Unsubscribe"].strip().strip("<>")

    assert mail["Auto-Submitted"] == "auto-generated"  # RFC 3834
    assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"  # RFC 8058
    assert link.startswith("https://recount.example.org/mail/stop/")
    assert Client().post(link.removeprefix("https://recount.example.org")).status_code == 200
    assert not Person.objects.get(pk=cast.alice.pk).wants_mail


@pytest.mark.parametrize(
    ("moment", "subject"),
    [
        (DUE, "Recount due: by Thu 3 Sep (1 colony)"),
        (at("09-04", 5), "Recount late since Thu 3 Sep (1 colony)"),
    ],
)
def test_subject_by_stage(cast, arrived, moment, subject):
    treated(cast.colonies[:1])
    (mail,) = arrived(moment)

    assert mail["Subject"] == subject


def test_announcement_comes_three_days_before(cast, arrived):
    recount = treated(cast.colonies[:1], out_on=dt.date(2026, 8, 8), way="thymol_gel_gb")
    soon = recount.ideal_on - dt.timedelta(days=3)
    (mail,) = arrived(dt.datetime.combine(soon, dt.time(5), tzinfo=dt.UTC))

    assert mail["Subject"].startswith("Recount coming up: by ")


def test_several_recounts_come_in_one_mail_the_most_urgent_first(cast, arrived):
    treated(cast.colonies[:2], on=dt.date(2026, 8, 8))
    treated(cast.colonies[2:5])
    (mail,) = arrived(at("08-22", 5))

    assert mail["Subject"] == "2 recounts, the first by Thu 3 Sep"
    text = _both(mail)[0]
    assert text.index("in 3 treated") < text.index("in 2 treated")


def test_mail_after_a_standstill_says_that_it_is_late(cast, arrived):
    treated(cast.colonies[:3])
    (mail,) = arrived(at("08-25", 9))

    assert all("This mail is late: it was meant for Thu 20 Aug 2026." in body for body in _both(mail))


def test_names_cannot_add_headings_or_tags(cast, arrived):
    Yard.objects.filter(pk=cast.alice_yard.pk).update(name="Hill\r\nBcc: all@example.org <b>")
    Person.objects.filter(pk=cast.alice.pk).update(name="Al\r\nBcc: all@example.org <script>")
    treated(cast.colonies[:3])
    (mail,) = arrived()

    assert mail["Bcc"] is None
    assert mail["To"] == "alice@example.org"
    assert "<script>" not in _both(mail)[1]
    assert "Hill" not in mail["Subject"]
