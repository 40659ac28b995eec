"""What people read of the tables in fixtures/ is asked of the catalogues, and said where it is shown, never before."""

from types import SimpleNamespace

import pytest

from apiaries import language
from config.catalogues import REFERENCE, asked
from counts.reference import rows_of
from treatments.models import Application
from treatments.ways import limits_of


class _German:
    """Says a few words, as a catalogue would."""

    told = {
        "g per hive": "g je Beute",
        "published": "veröffentlicht",
        "Oxalic acid, vapour": "Oxalsäure, verdampft",
    }

    def gettext(self, message: str) -> str:
        return self.told.get(message, message)

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return singular if number == 1 else plural

    def pgettext(self, context: str, message: str) -> str:
        return {".,": ",."}.get(message, message)

    def get_language(self) -> str:
        return "de"


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(language, "_speaker", _German())


@pytest.mark.parametrize("name", REFERENCE)
def test_each_text_is_asked_of_the_catalogue(name: str) -> None:
    wanted = {message.id for message in asked("config", "django") if message.id}

    for row in rows_of(name):
        assert {row[column] for column in REFERENCE[name] if row[column]} <= wanted


def test_names_of_issuers_and_sources_are_not_asked() -> None:
    wanted = {message.id for message in asked("config", "django") if message.id}

    assert not wanted & {row["issuer_name"] for row in rows_of("action_levels.csv")}
    assert not wanted & {row["source"] for row in rows_of("cautions.csv") if row["mark"] == "published"}


def test_a_limit_is_said_with_the_marks_of_numbers_of_its_reader(german: None) -> None:
    told = limits_of(SimpleNamespace(key="oxalic_vapour_ca"))  # type: ignore[arg-type]

    assert [(limit.text, limit.mark) for limit in told] == [("1 g je Beute", "veröffentlicht")]
    cold = [limit.text for limit in limits_of(SimpleNamespace(key="oxalic_vapour_us"))]  # type: ignore[arg-type]
    assert "2,8 °C (37 °F)" in cold


def test_a_way_is_kept_in_english_and_called_as_its_reader_calls_it(german: None) -> None:
    way = Application(english_name="Oxalic acid, vapour")

    assert (way.name, way.english_name, str(way)) == ("Oxalsäure, verdampft", *["Oxalic acid, vapour"] * 2)
