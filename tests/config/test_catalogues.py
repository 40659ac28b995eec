"""The catalogues of other languages: what the code asks is there, whole, and said the same way in every room."""

import gettext
import os
import re
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import allauth
import pytest
from babel.messages.catalog import Catalog, Message

from config import catalogues, sign_in_words
from config.catalogues import (
    DOMAINS,
    LANGUAGES,
    ROOMS,
    asked,
    brought_up,
    catalogue_path,
    compile_all,
    read_catalogue,
    uncompiled,
)

PLACEHOLDER = re.compile(r"%\(\w+\)[sd]|%[sd]|\{\w*\}")
TAG = re.compile(r"</?\w+")
ALL = [(room, domain, language) for room in ROOMS for domain in DOMAINS for language in LANGUAGES]


def sentences(catalogue: Catalog) -> Iterator[Message]:
    return (message for message in catalogue if message.id)


def ids(catalogue: Catalog) -> set[tuple[object, str | None]]:
    return {(message.id, message.context) for message in sentences(catalogue)}


def forms(words: object) -> tuple[str, ...]:
    """One for a sentence, two where it counts."""
    return (words,) if isinstance(words, str) else tuple(words)  # type: ignore[arg-type]


@pytest.fixture
def house(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A place of its own for rooms and catalogues."""
    monkeypatch.setattr(catalogues, "ROOT", tmp_path)
    return tmp_path


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


def said_by(made: Path) -> gettext.GNUTranslations:
    with made.open("rb") as file:
        return gettext.GNUTranslations(file)


# The kept catalogues


@pytest.mark.parametrize(("room", "domain", "language"), ALL)
def test_a_catalogue_holds_what_the_code_asks_and_nothing_else(room: str, domain: str, language: str) -> None:
    wanted = ids(asked(room, domain))
    kept = ids(read_catalogue(catalogue_path(room, language, domain), language))

    assert wanted - kept == set(), "Marked and not in the catalogue. Run make messages, then translate."
    assert kept - wanted == set(), "In the catalogue and asked by nobody. Run make messages."


@pytest.mark.parametrize(("room", "domain", "language"), ALL)
def test_every_sentence_is_translated_with_its_placeholders_and_tags(
    room: str, domain: str, language: str
) -> None:
    wrong = []
    for message in sentences(read_catalogue(catalogue_path(room, language, domain), language)):
        english, told = forms(message.id), forms(message.string)
        places = [set(PLACEHOLDER.findall(form)) for form in english]
        if len(told) < len(english) or not all(form.strip() for form in told):
            wrong.append(("not translated", english, told))
        elif any(set(PLACEHOLDER.findall(form)) not in places for form in told):
            wrong.append(("other placeholders", english, told))
        elif any(sorted(TAG.findall(form)) != sorted(TAG.findall(english[-1])) for form in told):
            wrong.append(("other tags", english, told))

    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_sentence_is_said_the_same_way_in_every_room(language: str) -> None:
    told = defaultdict(set)
    for room in ROOMS:
        for domain in DOMAINS:
            for message in sentences(read_catalogue(catalogue_path(room, language, domain), language)):
                told[message.id, message.context].add(forms(message.string))

    assert told
    assert {sentence: ways for sentence, ways in told.items() if len(ways) > 1} == {}


def test_the_sign_in_library_still_says_what_we_say_in_its_place() -> None:
    theirs = gettext.translation("django", Path(allauth.__file__).parent / "locale", ["de"])

    assert [words for words in sign_in_words.OURS if theirs.gettext(words) == words] == []


# What counts as marked


def test_marked_sentences_are_found_in_code_templates_and_scripts(house: Path) -> None:
    put(
        house / "counts" / "saying.py",
        "from apiaries.language import say, say_as, say_many\n"
        'say("{n} mites", n=3)\nsay_as("month", "May")\nsay_many("{n} yard", "{n} yards", 2)\n',
    )
    put(house / "counts" / "other.py", 'def say(x): ...\nsay("to a console")\n')
    put(
        house / "counts" / "templates" / "counts" / "page.html",
        '{% translate "Save the count" %}{% include "a.html" with hint=_("A hint") %}'
        "{% translate 'Main' context 'navigation' %}"
        "{% blocktranslate trimmed count n=n %}{{ n }} count{% plural %}{{ n }} counts{% endblocktranslate %}",
    )
    put(house / "counts" / "static" / "page.js", 'inWords("waiting"); inWordsMany("{n} row", "{n} rows", 2);')

    assert ids(asked("counts", "django")) == {
        ("{n} mites", None),
        ("May", "month"),
        (("{n} yard", "{n} yards"), None),
        ("Save the count", None),
        ("A hint", None),
        ("Main", "navigation"),
        (("%(n)s count", "%(n)s counts"), None),
    }
    assert ids(asked("counts", "djangojs")) == {("waiting", None), (("{n} row", "{n} rows"), None)}


# Brought up to the code


def test_known_translations_stay_and_new_sentences_wait_empty() -> None:
    known, wanted = Catalog(locale="de"), Catalog()
    known.add("colony", string="Volk")
    known.add("May", string="Mai", context="month")
    known.add(("{n} yard", "{n} yards"), string=("{n} Stand", "{n} Stände"))
    known.add("nobody asks", string="fragt niemand")
    for words, context in (
        ("colony", None),
        ("May", "month"),
        (("{n} yard", "{n} yards"), None),
        ("May", None),
    ):
        wanted.add(words, context=context)

    new = brought_up(known, wanted, "de")

    assert {(message.id, message.context): message.string for message in sentences(new)} == {
        ("colony", None): "Volk",
        ("May", "month"): "Mai",
        (("{n} yard", "{n} yards"), None): ("{n} Stand", "{n} Stände"),
        ("May", None): "",
    }


def test_a_sentence_that_now_counts_is_not_translated_by_the_old_one() -> None:
    known, wanted = Catalog(locale="de"), Catalog()
    known.add("yard", string="Stand")
    wanted.add(("yard", "yards"))

    (message,) = sentences(brought_up(known, wanted, "de"))

    assert not any(forms(message.string))


def test_writing_twice_changes_nothing(house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catalogues, "ROOMS", ("counts",))
    put(house / "counts" / "saying.py", 'from apiaries.language import say\nsay("colony")\n')
    catalogues.write()
    path = catalogue_path("counts", "de", "django")
    put(path, path.read_text().replace('msgid "colony"\nmsgstr ""', 'msgid "colony"\nmsgstr "Volk"'))
    before = path.read_text()

    catalogues.write()

    assert path.read_text() == before and 'msgstr "Volk"' in before


# Compiled

PO = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\n"\n\nmsgid "yards"\nmsgstr "Stände"\n'


def test_a_missing_or_older_file_is_compiled(house: Path) -> None:
    path = put(catalogue_path("counts", "de", "django"), PO)
    made = path.with_suffix(".mo")

    compile_all()
    assert said_by(made).gettext("yards") == "Stände"
    assert made.stat().st_mode & 0o777 == 0o644  # who serves may be somebody else than who compiled

    put(path, PO.replace("Stände", "Bienenstände"))
    os.utime(made, (0, 0))
    compile_all()
    assert said_by(made).gettext("yards") == "Bienenstände"


def test_a_file_that_is_newer_is_left_alone(house: Path) -> None:
    path = put(catalogue_path("counts", "de", "django"), PO)
    compile_all()
    made = path.with_suffix(".mo")
    before = made.stat()

    compile_all()

    assert uncompiled() == [] and (made.stat().st_ino, made.stat().st_mtime_ns) == (
        before.st_ino,
        before.st_mtime_ns,
    )


def test_several_at_once_leave_whole_files_and_nothing_else(house: Path) -> None:
    paths = [put(catalogue_path(room, "de", "django"), PO) for room in ROOMS]

    with ThreadPoolExecutor(6) as pool:
        for done in [pool.submit(compile_all) for _ in range(6)]:
            done.result()

    for path in paths:
        assert said_by(path.with_suffix(".mo")).gettext("yards") == "Stände"
        assert {one.name for one in path.parent.iterdir()} == {"django.po", "django.mo"}
