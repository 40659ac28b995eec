"""What goes out in German: bulletins, mails, region pages, charts, calendars. To each reader, whoever came before."""

import datetime as dt
import re
from dataclasses import replace

import pytest
from django.conf import settings as service
from django.core.cache import cache
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils.translation import override

from apiaries.actions import choose_language
from apiaries.models import Club
from counts.samples import Kind
from reports.actions import make_calendar_feed
from reports.bulletin_actions import make_bulletin
from reports.bulletin_figures import MonthFigures
from reports.bulletin_page import bulletin_page
from reports.charts import Mark, chart_svg
from reports.figures import refresh_marked
from reports.heat import share_words, unusual_words
from reports.hiding import hiding_rule
from reports.models import Bulletin
from reports.planner import plan_notices
from reports.publishing import publish_due
from reports.region_choice import heat_classes
from reports.sender import send_due
from tests.reports.counting import AT
from tests.reports.test_bulletin_words import MONTHS, told
from tests.reports.treating import at, treated

DUE = at("08-20", 5)
ENGLISH = re.compile(r"\b(the|of|and|yards?|mites?|found|counts?|treatments?)\b")
AUGUST = {"year": 2026}


@pytest.fixture
def memory(settings):
    """A cache that keeps what was drawn, as the service has one."""
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    cache.clear()


@pytest.mark.parametrize("name", MONTHS)
def test_no_english_is_left_in_a_bulletin(name):
    with override("de"):
        words = told(MONTHS[name])

    assert not ENGLISH.search(words)


def test_main_sentences_of_bulletins():
    with override("de"):
        two = told(MONTHS["two regions, one clearly more than a year before"])
        many = told(MONTHS["many regions, three kinds, one unusually high, an early warning"])
        none = told(MONTHS["nobody counted"])

    assert "Im Oktober 2026 ergaben Auswaschproben Werte für 2 Regionen." in two
    assert "North: 3,4 (Spanne 2,6 bis 4,5), von 10–19 Ständen." in two
    assert "mehr in North, 3,4 (2,6 bis 4,5) nach 1,1 (0,7 bis 1,8)" in two
    assert "North 54 % (Spanne 33 bis 74 %); South <1 %" in two
    assert "Die nächste Zählwoche ist vom 4. Mai 2027 bis 10. Mai 2027." in two
    assert "[Was im August ansteht]" in many and "der Wirkstoff: Oxalsäure." in many
    assert "Das sagt nichts darüber, wie viele Milben es gab." in none
    assert "Die Gebrauchsinformation, die Sie in der Hand haben, und die Vorschriften an Ihrem Ort" in none


def test_words_of_regions():
    with override("de"):
        rule = hiding_rule()
        classes = [one.ends for one in heat_classes(Kind.WASH)]
        share = share_words(0.5, 0.123, 0.8, 20)
        odd = unusual_words([1.0, 1.1, 0.9, 1.0, 1.05], 9.0, "August")

    assert rule.startswith("weniger als 3 Imkereien oder 5 Stände gezählt wurden")
    assert classes == ["unter 0,5", "0,5 bis 1", "1 bis 2", "2 bis 4", "4 und mehr"]
    assert share == ("50 %", "12 bis 80 %")
    assert odd == "ungewöhnlich hoch für August neben 5 früheren Jahren"


def test_a_chart_is_drawn_for_each_language(memory):
    marks = [Mark("North", "Aug", 0.5, 0.2, 1.3, 3.0)]
    wanted = {"regions": ["North"], "theme": "light", "size": "wide"}
    english = chart_svg(marks, unit="per 100 bees", **wanted)
    with override("de"):
        german = chart_svg(marks, unit="per 100 bees", **wanted)

    assert "Mites per 100 bees" in english and ">0.5<" in english
    assert "Milben per 100 bees" in german and ">0,5<" in german and ">Okt" in german
    assert chart_svg(marks, unit="per 100 bees", **wanted) == english


def test_the_mail_of_a_day_is_in_the_language_of_its_reader(reference, cast, mailoutbox):
    choose_language(person=cast.alice, language="de", by=cast.alice)
    treated(cast.colonies[:3])
    plan_notices(at=DUE)
    send_due(at=DUE)
    (mail,) = mailoutbox

    assert mail.subject == "Nachzählung fällig: bis Do, 3. Sept (3 Völker)"
    assert "Nachzählung fällig, bis Do, 3. Sept 2026" in mail.body
    assert "zählen Sie noch einmal Milben: 3 behandelte Völker" in mail.body
    assert "am besten am Do, 20. Aug 2026" in mail.body
    assert "Den Stand zählen: http" in mail.body
    for body in (mail.body, mail.alternatives[0].content):
        assert "Keine Mails mehr über Nachzählungen und Behandlungen" in body


def test_a_region_page_is_kept_for_each_language(memory, client_for, cast, counted_north):
    refresh_marked(at=AT)
    client, page = client_for(cast.dana), reverse("reports:region-month")
    english = client.get(page, AUGUST).content.decode()
    choose_language(person=cast.dana, language="de", by=cast.dana)
    german = client.get(page, AUGUST).content.decode()
    drawn = client.get(reverse("reports:region-chart"), AUGUST).content.decode()
    choose_language(person=cast.dana, language=service.LANGUAGE_CODE, by=cast.dana)
    again = client.get(page, AUGUST).content.decode()

    assert "\nMean of the yards: " in english and "\nMean of the yards: " in again
    assert "\nMittel der Stände: " in german and "\nMean of the yards: " not in german
    assert "Milben je 100 Bienen" in drawn


@pytest.fixture
def bulletin(reference, counted_north, cast):
    """August 2026, drafted by a coordinator who reads English."""
    Club.objects.update(founded_at=dt.datetime(2026, 6, 15, 12, tzinfo=dt.UTC))
    cast.club.refresh_from_db()
    refresh_marked(at=AT)
    publish_due(at=AT)
    return make_bulletin(club=cast.club, month=dt.date(2026, 8, 1), at=AT, by=cast.dana)


def test_each_reader_has_the_bulletin_in_their_language(bulletin):
    english, page = bulletin_page(bulletin), bulletin_page(Bulletin.objects.get())
    with override("de"):
        assert page.language == "de" and page.title == "Rundbrief für August 2026"
        assert page.paragraphs[0].title == "Was gezählt wurde"
        assert page.tables[0].title == "Auswaschproben, Milben je 100 Bienen"
        assert "South" in page.tables[0].lines[1].region.name
        assert page.tables[0].lines[1].nothing == "– keine Zählungen"

    assert not english.other_language and english.paragraphs[0].title == "What was counted"


def test_a_bulletin_of_english_words_alone_says_so(bulletin):
    bulletin.words = bulletin.words[service.LANGUAGE_CODE]
    with override("de"):
        page = bulletin_page(bulletin)
        assert page.other_language == service.LANGUAGE_CODE
        assert page.paragraphs[0].title == "What was counted"
        assert '<section lang="en-gb">' in render_to_string("reports/_bulletin_text.html", {"page": page})


def test_figures_that_were_kept_in_words_are_read():
    month = MONTHS["two regions, one clearly more than a year before"]
    kept = month.as_kept() | {"week": ["4 May 2027", "10 May 2027"]}
    for region in kept["kinds"][0]["regions"]:
        del region["bees"], region["board_days"]
        region["looked_at"] = "about 9,000 bees" if region["figure"] else ""

    assert MonthFigures.from_kept(kept) == month
    boards = {**kept["kinds"][0]["regions"][1], "looked_at": "about 40 board days"}
    read = replace(month.kinds[0].regions[1].from_kept(boards))
    with override("de"):
        assert read.looked_at == "etwa 40 Tage mit Bodeneinlage"


def test_a_calendar_speaks_its_owners_language(reference, cast, time_machine):
    time_machine.move_to(DUE, tick=False)
    choose_language(person=cast.alice, language="de", by=cast.alice)
    treated(cast.colonies[:1])
    word = make_calendar_feed(person=cast.alice, yard=None, at=DUE, by=cast.alice)
    body = Client().get(reverse("reports:calendar-feed", args=[word])).content.decode().replace("\r\n ", "")

    assert f"SUMMARY:Nachzählung\\, {cast.alice_yard.name}" in body
    assert "Zählen Sie vom 20. Aug 2026 bis 3. Sept 2026" in body
