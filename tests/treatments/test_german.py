"""The main sentences about treatments in German: the same claims, no weaker and no stronger."""

import csv
import datetime as dt
import io
from collections.abc import Iterator
from decimal import Decimal

import pytest
from django.utils.translation import override

from apiaries.language import day_words
from tests.cast import Cast
from tests.treatments.making import AFTER, BEFORE, GIVEN, LATER, TODAY, jar, treat
from treatments._verdicts import Drop
from treatments.actions import NewDose
from treatments.day_actions import NewHive, NewSheet, finish_round, set_sheet
from treatments.day_sheet import span_words
from treatments.dose import unit_words
from treatments.due import due_list
from treatments.medicine import Item, Kept, Regime, Term
from treatments.medicine_actions import RecordFields
from treatments.medicine_record import record_of
from treatments.models import Application, DaySheet, Step, Treatment
from treatments.outcome import drop_in_mites
from treatments.outcome_page import outcome_page
from treatments.outlook import NoOutlook
from treatments.outlook_says import NO_OUTLOOK_WORDS
from treatments.possible import Check, Reason, Stand, Subject
from treatments.possible_page import limits_for
from treatments.possible_words import check_words, degrees, subjects_in_short
from treatments.record_csv import record_csv
from treatments.record_facts import given_facts
from treatments.record_words import kept_words, missing_words
from treatments.sentences import (
    Note,
    drop_words,
    note_sentences,
    outcome_sentence,
    per_cent,
    range_words,
    settle_sentence,
    too_early_sentence,
)
from treatments.sheet_page import sheet_page
from treatments.sheet_pdf import sheet_data

ON = dt.date(2026, 8, 12)
AT = dt.datetime(2026, 8, 12, 6, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def _german() -> Iterator[None]:
    with override("de"):
        yield


def said(before: int, after: int, colonies: int = 6) -> str:
    bees = [300] * colonies
    return outcome_sentence(
        drop_in_mites([before] * colonies, bees, [after] * colonies, bees, target=0.9), 0.9
    )


@pytest.mark.parametrize(
    ("counted", "words"),
    [
        (
            (50, 0),
            "Der Rückgang der Milben liegt zwischen 99 und 100 %. Das passt zum Ziel von 90 %.",
        ),
        (
            (100, 15),
            "Der Rückgang der Milben liegt zwischen 80 und 89 %. "
            "Das ist ein gutes Stück des Weges, aber unter dem Ziel von 90 %.",
        ),
        (
            (2, 0),
            "Der Rückgang der Milben liegt zwischen 82 und 100 %. "
            "Das sieht gut aus, aber 12 Milben davor sind zu wenige, um ein Ziel von 90 % zu zeigen.",
        ),
    ],
)
def test_outcomes(counted: tuple[int, int], words: str) -> None:
    assert said(*counted) == words


def test_a_drop_that_missed_and_one_that_cannot_be_told() -> None:
    assert said(30, 15).endswith(
        "Die ganze Spanne liegt unter dem Ziel von 90 %, möglicherweise weit darunter."
    )
    assert said(9, 1, colonies=1).endswith(
        "Die Spanne ist zu breit, um zu sagen, ob das Ziel von 90 % erreicht wurde."
    )
    assert (
        said(0, 0) == "Vor der Behandlung wurden keine Milben gefunden, also kann sich kein Rückgang zeigen."
    )


def test_a_rise_is_told_as_a_rise_with_german_marks() -> None:
    assert drop_words(Drop(-15.0, -21.5, -11.1)) == (
        "Die Milben nahmen nicht ab: Sie nahmen zu, um 1.110 bis 2.150 %."
    )
    assert drop_words(Drop(0.1, -0.2, 0.431)) == (
        "Der Rückgang der Milben beträgt höchstens 44 %, und sie könnten sogar zugenommen haben."
    )
    assert (range_words(Drop(0.95, 0.8764, 0.9834)), per_cent(0.945)) == ("87 bis 99 %", "95 %")


def test_what_would_settle_it() -> None:
    outcome = drop_in_mites([2] * 6, [300] * 6, [0] * 6, [300] * 6, target=0.9)
    found = int(outcome.mites_needed or 0)

    assert settle_sentence(outcome) == (
        f"Um zu zeigen, dass sie gewirkt hat, müssen vor der Behandlung mindestens {found} Milben gefunden werden, "
        "in allen Völkern zusammen. Hier waren es 12: Zählen Sie mehr Völker oder mehr Bienen."
    )


def test_recounts() -> None:
    assert too_early_sentence(counted_early=False) == (
        "Dafür ist es noch zu früh. Die Tage der Nachzählung kommen erst noch."
    )
    assert note_sentences([Note.UNITED]) == [
        "Ein anderes Volk wurde mit einem von diesen zwischen dessen beiden Zählungen vereinigt. Gezählt wurden also "
        "verschiedene Bienen, deshalb bleibt dieses Volk weg."
    ]


@pytest.mark.parametrize(
    ("check", "words"),
    [
        (
            Check(Subject.TEMPERATURE, Stand.IN_THE_WAY, Reason.TOO_WARM, 29.5, 31.5, ON),
            "31,5 °C (88,7 °F) erwartet am {day}; veröffentlicht sind höchstens 29,5 °C (85,1 °F).",
        ),
        (
            Check(Subject.SUPERS, Stand.FIND_OUT, Reason.SUPERS_BY_LABEL, found=2),
            "Auf 2 der Völker. Erlaubt die Gebrauchsinformation das?",
        ),
        (
            Check(Subject.INTERVAL, Stand.IN_THE_WAY, Reason.TOO_SOON, 30, 1, ON),
            "Zuletzt gegeben am {day}, Abstand in Tagen: 1; veröffentlicht sind mindestens 30.",
        ),
        (
            Check(Subject.CLEAR_DATE, Stand.FIND_OUT, Reason.WITHDRAWAL_UNKNOWN),
            "Lesen Sie die Wartezeit in der Gebrauchsinformation.",
        ),
    ],
)
def test_what_stands_in_the_way(check: Check, words: str) -> None:
    assert check_words(check) == words.replace("{day}", day_words(ON))


def test_subjects_keep_the_capitals_of_their_nouns() -> None:
    subjects = (Subject.BROOD, Subject.STILL_IN, Subject.SUPERS)

    assert subjects_in_short(subjects) == "Brut, noch in den Beuten, Honigräume"
    assert degrees(None) == ""


def test_doses_and_times() -> None:
    assert [unit_words(unit) for unit in ("g", "mL", "strips", "Handvoll")] == [
        "g",
        "ml",
        "Streifen",
        "Handvoll",
    ]
    assert (span_words(125), span_words(4)) == ("2 h 05 min", "4 min")


def test_how_long_a_record_is_kept_and_what_it_lacks() -> None:
    term = Term(regime=Regime.EU, years=5, only_if="", mark="", source="")

    assert kept_words(Kept(until=ON, term=term), Regime.EU, [term], "12. Aug 2031") == (
        "Aufbewahren bis 12. Aug 2031: 5 Jahre."
    )
    assert missing_words([Item.BATCH, Item.SUPPLIER, Item.PROOF]) == (
        "Es fehlt: Chargennummer, Lieferant und Erwerbsbeleg"
    )


def test_steps_are_kept_by_their_keys_and_read_in_german() -> None:
    assert [str(one.label) for one in Step] == ["begonnen", "Verdampfer raus", "geöffnet", "ausgelassen"]
    assert Step.values == ["started", "drawn", "opened", "left_out"]


def test_why_no_day_is_foretold_can_be_said_of_every_reason() -> None:
    assert set(NO_OUTLOOK_WORDS) == set(NoOutlook)


@pytest.mark.django_db
@pytest.mark.usefixtures("reference")
def test_limits_are_reckoned_with_as_the_file_has_them() -> None:
    ways = Application.objects.all()
    in_german = [limits_for(way) for way in ways]

    with override("en"):
        assert in_german == [limits_for(way) for way in ways]


@pytest.mark.django_db
@pytest.mark.usefixtures("reference")
def test_page_of_an_outcome(cast: Cast) -> None:
    for colony in cast.colonies:
        jar(colony, BEFORE, 30)
        jar(colony, AFTER, 1)
    page = outcome_page(treat(cast.colonies), TODAY)

    assert page["before"].in_what == "1.800 Bienen"
    assert page["kind"] == "Auswaschproben"
    assert {row.before for row in page["rows"]} == {"30 in 300 Bienen"}
    assert page["confounders"][2] == (
        "Dosis: weniger, als die Gebrauchsinformation sagt, oder ungleich auf die Zargen verteilt."
    )


@pytest.mark.django_db
@pytest.mark.usefixtures("reference")
def test_end_of_a_withdrawal_period_leaves_the_honey_to_the_label(cast: Cast) -> None:
    treat(cast.colonies, withdrawal_days=3)
    (item,) = (one for one in due_list(cast.alice, GIVEN + dt.timedelta(days=3)) if one.kind.value == "clear")

    assert item.words == (
        "Die eingetragene Wartezeit (in Tagen: 3) ist zu Ende. Wann Honig geerntet werden darf, entscheiden die "
        "Gebrauchsinformation und die örtlichen Vorschriften."
    )


def planned_day(cast: Cast) -> DaySheet:
    hives = tuple(NewHive(colony=one, amount=Decimal("1.5")) for one in cast.colonies)
    sheet = NewSheet(
        starts_at=dt.time(9, 30), hives=hives, wait_minutes=Decimal(5), sealed_minutes=Decimal(15)
    )
    treatment = treat(cast.colonies, planned=[ON])
    return set_sheet(round_=treatment.rounds.get(number=1), sheet=sheet, at=AT, by=cast.alice)


@pytest.mark.django_db
@pytest.mark.usefixtures("reference")
def test_sheet_of_a_day(cast: Cast) -> None:
    made = sheet_data(sheet_page(planned_day(cast), cast.alice), address="https://recount.example.org/")

    assert made["columns"] == ["Beute", "Zargen", "Dosis", "Zu um", "Öffnen ab", "Fertig", "Bemerkung"]
    assert made["rows"][0]["cells"][1] == "1,5 g"
    assert made["foot"].endswith("Durchgang 1. Die Gebrauchsinformation in Ihrer Hand entscheidet.")
    assert made["times"] == [
        "Schreiben Sie die Zeiten selbst auf: 15 Minuten geschlossen nach dem letzten Dampf."
    ]


@pytest.mark.django_db
@pytest.mark.usefixtures("reference")
def test_record_is_read_in_german_and_its_file_keeps_its_numbers(cast: Cast) -> None:
    treat(cast.colonies)
    record = record_of(cast.alice, cast.alice, year=None, yard=None, on=TODAY)
    facts = {fact.label: fact.lines for fact in given_facts(record.uses[0])}
    rows = list(csv.DictReader(io.StringIO(record_csv(record).decode("utf-8-sig"))))

    assert facts["Gegeben"] == (f"{day_words(GIVEN)} (1 Tag)",)
    assert facts["Menge"][-1] == "Insgesamt 6 g"
    assert facts["Chargennummer"] == ("fehlt",)
    assert (rows[0]["entry"], rows[0]["quantity"], rows[0]["batch"]) == ("use", "1", "FEHLT")
    assert rows[0]["ingredient"] == "Oxalsäure"


@pytest.mark.django_db
@pytest.mark.usefixtures("reference")
def test_reason_of_our_own_is_kept_in_english_and_read_in_german(cast: Cast) -> None:
    round_ = planned_day(cast).round
    told, doses = RecordFields(batch="A12"), [NewDose(one, Decimal(1)) for one in cast.colonies]
    treatment = finish_round(
        round_=round_, given_on=ON, doses=doses, told=told, at=LATER, by=cast.alice
    ).treatment
    record = record_of(cast.alice, cast.alice, year=None, yard=None, on=TODAY)
    changes = {change.field: change.why for change in record.uses[0].changes}

    assert changes["Chargennummer"] == "beim Abschluss des Tages ausgefüllt"
    assert Treatment.objects.get(pk=treatment.pk).batch == "A12"
