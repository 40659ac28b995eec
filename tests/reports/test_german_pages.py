"""Numbers that machines read, and places, keep their decimal point on German pages."""

import re

import pytest

from apiaries.actions import choose_language
from reports.templatetags.report_words import inside, place_words
from tests.access.world import World
from tests.reports.test_region_map import mapped  # noqa: F401
from tests.reports.test_seen_of_me import PLACE, world  # noqa: F401


def _german(client_for, person):
    choose_language(person=person, language="de", by=person)
    return client_for(person)


@pytest.mark.usefixtures("mapped")
def test_what_lies_over_the_map_has_points(client_for, cast):
    page = _german(client_for, cast.dana).get("/regions/", {"year": 2026}).content.decode()

    assert '<html lang="de"' in page
    assert re.search(r'viewBox="0 0 1000 \d+\.\d+"', page)
    assert not re.search(r'<path d="[^"]*,', page)


def test_places_have_points(client_for, world: World):  # noqa: F811
    page = _german(client_for, world.cast.alice).get("/me/seen/").content.decode()

    assert ", ".join(PLACE) in page


def test_middle_of_a_circle_has_points(client_for, cast, reference):
    page = (
        _german(client_for, cast.ines).get("/around/", {"place": "52.5, -13.4", "km": "2.5"}).content.decode()
    )

    assert "52.5, −13.4</h2>" in page


def test_words_in_english_sentences_are_small():
    assert inside("Oxalic acid") == "oxalic acid"
    assert inside("") == "" and place_words(None) == ""
