"""A process that serves looks each sentence up once, and says what the catalogues say."""

from collections.abc import Iterator
from functools import lru_cache

import pytest
from asgiref.local import Local
from django.utils.translation import gettext, ngettext, override, pgettext, trans_real

from config import sentences
from config.catalogues import ROOMS, catalogue_path, read_catalogue


@pytest.fixture(autouse=True)
def _languages_of_its_own(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """What a language remembers goes with the test."""
    with monkeypatch.context() as patch:
        patch.setattr(trans_real, "_translations", {})
        patch.setattr(trans_real, "_default", None)
        patch.setattr(trans_real, "_active", Local())
        yield


def only_in(room: str) -> tuple[str, str]:
    """A sentence of that room's catalogue which no other has, and its German."""
    told = {
        one: {
            message.id: message.string
            for message in read_catalogue(catalogue_path(one, "de", "django"), "de")
        }
        for one in ROOMS
    }
    others = set().union(*(set(found) for one, found in told.items() if one != room))
    return next(
        (words, german)
        for words, german in told[room].items()
        if isinstance(words, str) and isinstance(german, str) and words not in {"", *others, german}
    )


def every_kind() -> list[str]:
    """A sentence of each room, one of Django's, one that nobody translates, words in a context, of one and of many."""
    return [
        *(gettext(only_in(room)[0]) for room in ROOMS),
        gettext("This field is required."),
        gettext("nobody translates this"),
        pgettext("marks of numbers: decimal, thousands", ".,"),
        gettext(".,"),
        gettext("one line\r\nand another"),
        *(ngettext("{n} colony", "{n} colonies", number) for number in (0, 1, 2)),
        gettext("{n} colony"),
        gettext(""),
    ]


GERMAN = [*(only_in(room)[1] for room in ROOMS), "Dieses Feld ist zwingend erforderlich."]
GERMAN += ["nobody translates this", ",.", ".,", "one line\nand another"]
GERMAN += ["{n} Völker", "{n} Volk", "{n} Völker", "{n} Volk", ""]
ENGLISH = [
    *(only_in(room)[0] for room in ROOMS),
    "This field is required.",
    "nobody translates this",
    ".,",
    ".,",
]
ENGLISH += ["one line\nand another", "{n} colonies", "{n} colony", "{n} colonies", "{n} colony", ""]


@pytest.mark.parametrize("remembers", [False, True])
def test_what_is_remembered_is_what_the_catalogues_say(remembers: bool) -> None:
    if remembers:
        sentences.remember()

    for _ in range(2):
        with override("de"):
            assert every_kind() == GERMAN
        with override("en-gb"):
            assert every_kind() == ENGLISH


def test_a_sentence_is_looked_for_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def look_up(words: str) -> str:
        asked.append(words)
        return words

    monkeypatch.setattr(trans_real.translation("en-gb"), "gettext", look_up)
    sentences.remember()

    with override("en-gb"):
        told = [gettext("Save the count") for _ in range(3)]

    assert told == ["Save the count"] * 3 and asked == ["Save the count"]


def test_who_serves_remembers() -> None:
    from config import wsgi

    with override("en-gb"):
        gettext("Save the count")

    assert wsgi.application
    remembered = trans_real.translation("en-gb").gettext
    assert isinstance(remembered, type(lru_cache(gettext)))
