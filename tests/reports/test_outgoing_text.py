"""Whatever somebody is called, no heading is added to a mail and none is broken: as an object, and over SMTP."""

from email import message_from_bytes, policy

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from apiaries.line import Line
from reports.mail import digest_mail
from reports.models import Digest
from reports.planner import plan_notices
from reports.telling import still_to_tell
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated

pytestmark = pytest.mark.usefixtures("reference")
DUE = at("08-20", 5)
HEADINGS = sorted(
    ["content-type", "mime-version", "subject", "from", "to", "date", "message-id", "auto-submitted"]
    + ["list-unsubscribe", "list-unsubscribe-post"]
)
ADDED = {"x-peer", "x-mailfrom", "x-rcptto"}  # by the server of the tests
LONGEST_LINE = 998  # octets without the line end, RFC 5322 2.1.1 (from memory)
ODD = (
    "Hill\r\nBcc: all@example.org\r\n\r\nHello",
    "Hill\nList-Unsubscribe: <https://evil.example>",
    "\u202eforwards\u202c \u05d0\u05d1",
    "x" * 1_000_000,
    "\U0001f41d" * 250_000,
    "Hill\u2028Bcc: all@example.org\x0bX: y\x85Z: z",
    "Hill\r\n.\r\nMAIL FROM:<evil@example.org>",
    "Hill\r.\n..\n",
    "\x00\x08\x1b[2J",
    "--===============0==--\r\nContent-Type: text/html",
)
NAMES = st.one_of(
    st.sampled_from(ODD[:3] + ODD[5:]),
    st.text(st.characters(codec="utf-8"), max_size=200),
    st.text(st.sampled_from("\r\n :.<>@-=?\u2028\u2029\x85\x0b\x0c\u202e\u200f\u05d0a"), max_size=200),
)
INSIDE = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture
def office(settings):
    with open_post_office() as post_office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", post_office.port
        yield post_office


@pytest.fixture
def mail_for(cast):
    """Alice's mail, as if she, her yard and what she gave were called something else."""
    treated(cast.colonies[:3])
    plan_notices(at=DUE)
    digest = Digest.objects.select_related("person").get()
    told = still_to_tell(digest, at=DUE)

    def make(person, yard, way):
        digest.person.name = person
        for _, owed in told:
            treatment = owed.matter.about.treatment
            treatment.yard.name = owed.matter.yard.name = yard
            treatment.application.english_name = way
        return digest_mail(digest, told, at=DUE)

    return make


def _whole(mail, names):
    """Its headings are ours, once each; both parts are there, and what somebody is called stands in the text."""
    assert sorted(name.lower() for name in mail if name.lower() not in ADDED) == HEADINGS
    assert (mail["To"], mail["Subject"]) == ("alice@example.org", "Recount due: by Thu 3 Sep (3 colonies)")
    assert mail["List-Unsubscribe"].strip("<> ").count(reverse("reports:mail-stop", args=["x"])[:-2]) == 1
    assert [part.get_content_type() for part in mail.iter_parts()] == ["text/plain", "text/html"]
    text = "".join(mail.get_body(("plain",)).get_content().split())
    for name in names:
        assert "".join(name.split()) in text


def _named_oddly(test):
    for name in ODD:
        test = example(person=name, yard=name, way=name)(test)
    return given(person=NAMES, yard=NAMES, way=NAMES)(test)


def test_no_name_adds_a_heading_to_a_mail_or_breaks_it(mail_for):
    @settings(INSIDE, max_examples=150)
    @_named_oddly
    def whatever(person, yard, way):
        octets = mail_for(person, yard, way).message().as_bytes(linesep="\r\n")
        _whole(message_from_bytes(octets, policy=policy.default), (person, yard))
        assert max(map(len, octets.split(b"\r\n"))) <= LONGEST_LINE

    whatever()


def test_no_name_adds_a_heading_or_a_mail_on_its_way_to_a_server(mail_for, office):
    with Line() as line:

        @settings(INSIDE, max_examples=40)
        @_named_oddly
        def whatever(person, yard, way):
            office.taken.clear()
            office.recipients.clear()
            line.hand_over(mail_for(person, yard, way))
            (mail,) = office.taken
            _whole(mail, (person, yard))
            assert office.recipients == [["alice@example.org"]]

        whatever()
    assert (office.lines, office.goodbyes) == (1, 1)


@pytest.mark.parametrize("address", ["alice@example.org\r\nBcc: all@example.org", "alice@example.org\nX: y"])
def test_address_with_a_line_end_is_not_sent_to(mail_for, office, address):
    message = mail_for("Alice", "Home", "strips")
    message.to = [address]

    with Line() as line, pytest.raises(ValueError, match="Invalid address"):
        line.hand_over(message)
    assert office.taken == []
