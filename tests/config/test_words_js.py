"""The words of the scripts in other languages: open to all, kept as long as they are the same, asked of no database."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from django.template import engines
from django.test import Client
from django.urls import reverse
from django.utils import translation

from config import offline, script_words
from config.catalogues import SCRIPT_KEYWORDS, asked

STATIC = Path(__file__).parents[2] / "config" / "static"


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> Iterator[Catalog]:
    """A catalogue of three sentences, one of them without a translation."""
    found = Catalog(locale="de")
    found.add("No network.", "Kein Netz.")
    found.add(("{n} mite", "{n} mites"), ("{n} Milbe", "{n} Milben"))
    found.add("All saved.", "")
    monkeypatch.setattr(script_words, "read_catalogue", lambda *_: found)
    _forget()
    yield found
    _forget()


def _forget() -> None:
    for kept in (script_words._script, script_words._version, offline._version):
        kept.cache_clear()


def table(text: str) -> dict:
    found = re.fullmatch(r"globalThis\.wordTable = (.*);\n", text)
    assert found
    return json.loads(found[1])


def test_table_holds_what_is_translated(german: Catalog) -> None:
    answer = Client().get(script_words.words_address("de"))

    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/javascript; charset=utf-8"
    told = table(answer.content.decode())
    assert told["words"] == {"No network.": "Kein Netz.", "{n} mite": ["{n} Milbe", "{n} Milben"]}
    assert len(told["months"]) == 12
    assert {"{day}", "{month}", "{year}"} <= set(re.findall(r"\{\w+\}", told["day"]))
    assert {"{month}", "{year}"} == set(re.findall(r"\{\w+\}", told["month"]))


def test_address_is_kept_for_long_and_changes_with_a_word(german: Catalog) -> None:
    before = script_words.words_address("de")
    assert "immutable" in Client().get(before)["Cache-Control"]

    german["All saved."].string = "Alles gespeichert."
    _forget()

    assert script_words.words_address("de") != before
    old = Client().get(before)  # of a page that was opened before: today's words, kept by nobody
    assert old["Cache-Control"] == "private, no-store"
    assert "Alles gespeichert." in old.content.decode()


def test_english_has_no_table_and_unknown_languages_none() -> None:
    assert script_words.words_address("en-gb") == script_words.words_address("tlh") == ""
    for language in ("en-gb", "tlh"):
        url = reverse("script-words", kwargs={"language": language, "version": "1"})
        assert Client().get(url).status_code == 404


def test_pages_name_the_table_of_their_language_before_what_asks_it(german: Catalog) -> None:
    base = engines["django"].from_string("{% include 'base.html' %}")
    with translation.override("de"):
        scripts = re.findall(r'<script src="([^"]+)" defer>', base.render({}))
    assert scripts[:3] == ["/static/words.js", script_words.words_address("de"), "/static/recount.js"]

    with translation.override("en-gb"):
        scripts = re.findall(r'<script src="([^"]+)" defer>', base.render({}))
    assert scripts[:2] == ["/static/words.js", "/static/recount.js"]


def test_a_phone_keeps_the_words_and_hears_of_new_ones(german: Catalog) -> None:
    def told() -> dict:
        script = Client().get(reverse("service-worker")).content.decode()
        return json.loads(script.splitlines()[0].removeprefix("self.kept = ").rstrip(";"))

    before = told()
    assert "/static/words.js" in before["files"]
    assert script_words.words_address("de") in before["files"]

    german["All saved."].string = "Alles gespeichert."
    _forget()

    assert told()["version"] != before["version"]


@pytest.mark.parametrize(
    "path",
    [path for path in sorted(STATIC.glob("*.js")) if path.name != "words.js"],
    ids=lambda path: path.name,
)
def test_every_sentence_is_asked_by_its_own_words(path: Path) -> None:
    """A sentence put together before it is asked is found by no catalogue."""
    for keyword in SCRIPT_KEYWORDS:
        arguments = re.findall(rf"\b{keyword}\(\s*(.)", path.read_text())
        assert set(arguments) <= {'"'}, keyword


def test_catalogue_of_the_scripts_knows_one_and_many() -> None:
    found = {message.id for message in asked("config", "djangojs") if message.id}

    assert "No network." in found
    assert ("{n} mite", "{n} mites") in found
