"""What a keeper who reads German is told about counts: numbers, ranges and plurals as German writes them."""

from typing import Any

import pytest
from django.urls import reverse
from django.utils.translation import override

from apiaries.actions import choose_language
from counts.action_levels import Level, LevelKind, LevelUnit, Standing, standing
from counts.estimate import Estimate, Refusal, Unit, estimate_board, estimate_jar, yard_mean
from counts.samples import BeesBy, BoardSample, JarSample, Method, Question
from counts.sentences import (
    REFUSAL_SENTENCES,
    STANDING_WORDS,
    estimate_sentence,
    gap_sentence,
    level_words,
    per_day,
    question_sentence,
    settle_sentence,
    settle_yard_sentence,
    together_sentence,
)


@pytest.fixture(autouse=True)
def _in_german() -> Any:
    with override("de"):
        yield


def level(
    unit: LevelUnit = LevelUnit.PER_100_BEES, act_at: float | None = 3.0, kind: LevelKind = LevelKind.JAR
) -> Level:
    return Level("k", "ein Institut", "eine Region", kind, unit, act_at, True, "published", "a source")


def wash(mites: int, bees: int = 300) -> Estimate:
    return estimate_jar(JarSample(mites, bees, BeesBy.VOLUME, Method.ALCOHOL_WASH))


def told(estimate: Any, one: Level | None = None) -> str:
    one = one or level()
    return estimate_sentence(estimate, one, standing(estimate, one))


def ranged(low: float, high: float, unit: Unit = Unit.PER_BEE) -> Estimate:
    return Estimate(low, low, high, unit, False, None, 5, exposure=300, bees=300)


# Estimates


def test_count_on_either_side_says_that_it_cannot_settle() -> None:
    assert told(wash(9)) == (
        "Zwischen etwa 1 und 7 Milben je 100 Bienen. Darin liegt auch die Schadensschwelle von 3 (ein Institut); "
        "diese Zählung kann es also nicht entscheiden. Das beruht allein auf dieser Probe."
    )


def test_none_found_still_tells_how_many_there_could_be() -> None:
    assert estimate_sentence(wash(0)) == (
        "Keine gefunden in 300 Bienen. Es könnten trotzdem bis zu etwa 1½ Milben je 100 Bienen sein. "
        "Das beruht allein auf dieser Probe."
    )


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.0350, 0.0690, "Zwischen etwa 3½ und 7 Milben je 100 Bienen."),
        (0.0050, 0.0100, "Zwischen etwa ½ und 1 Milbe je 100 Bienen."),
        (0.0023, 0.0040, "Bis zu etwa ½ Milbe je 100 Bienen."),
        (12.5, 1234567.0, "Mindestens etwa 1.250 Milben je 100 Bienen."),
    ],
)
def test_ranges_are_rounded_outward_in_halves(low: float, high: float, words: str) -> None:
    high = float("inf") if high > 1000 else high
    assert estimate_sentence(ranged(low, high)).startswith(words)


@pytest.mark.parametrize(
    ("mites", "words"),
    [
        (1, "Das liegt klar unter der Schadensschwelle von 3 (ein Institut)."),
        (2, "Das liegt sehr wahrscheinlich unter der Schadensschwelle von 3 (ein Institut)."),
        (15, "Das liegt sehr wahrscheinlich über der Schadensschwelle von 3 (ein Institut)."),
        (40, "Das liegt klar über der Schadensschwelle von 3 (ein Institut)."),
    ],
)
def test_standing_is_said_as_strongly_as_the_range_allows(mites: int, words: str) -> None:
    assert words in told(wash(mites))


def test_boards_are_told_per_day() -> None:
    board = estimate_board(BoardSample(23, 3.0))
    bar = level(LevelUnit.PER_DAY, 10.0, LevelKind.BOARD)

    assert told(board, bar).startswith("Zwischen etwa 4½ und 14 Milben pro Tag. Darin liegt auch")
    assert told(estimate_board(BoardSample(0, 1)), bar).startswith("Keine gefunden in 1 Tag.")
    assert told(estimate_board(BoardSample(0, 3.5)), bar).startswith("Keine gefunden in 3,5 Tagen.")
    fell = estimate_board(BoardSample(400, 3.0), treatment_in_hive=True)
    assert told(fell, bar) == (
        "Zwischen etwa 96 und 196 Milben pro Tag. Diese Milben fielen, während eine Behandlung in der Beute war: "
        "nicht der natürliche Milbenfall, deshalb gilt keine Schadensschwelle."
    )


def test_yard_is_told_as_the_mean_of_its_colonies() -> None:
    yard = yard_mean([15, 22, 9, 40, 12], [300] * 5, 12, recovery=0.95)

    assert told(yard).startswith(
        "Im Mittel des Standes zwischen etwa 3½ und 15 Milben je 100 Bienen. Das liegt klar"
    )
    assert told(yard).endswith("Das beruht allein auf diesen Proben.")
    none = yard_mean([0] * 5, [300] * 5, 12)
    assert told(none).startswith(
        "Keine gefunden in 1.500 Bienen aus 5 Völkern. Es könnten trotzdem bis zu etwa"
    )


def test_refused_count_gives_its_reason() -> None:
    assert told(wash(3, 40)) == "Weniger als 50 Bienen sind zu wenige für eine Aussage. Zählen Sie etwa 300."
    assert told(yard_mean([9], [300], 12)) == (
        "Ein Volk kann nicht für seinen Stand sprechen. Zählen Sie mindestens 3 Völker."
    )


# Beside estimates


def test_count_is_read_together_with_those_of_its_region() -> None:
    others = "42 anderen Auswaschproben in einer Region im Aug 2026"

    assert together_sentence(1.1, 4.8, others, level(), Standing.EITHER_SIDE) == (
        f"Zusammen gelesen mit {others}: zwischen etwa 1 und 5 Milben je 100 Bienen. "
        "Darin liegt auch die Schadensschwelle von 3 (ein Institut)."
    )
    assert together_sentence(0.4, 2.2, others) == (
        f"Zusammen gelesen mit {others}: bis zu etwa 2½ Milben je 100 Bienen."
    )


def test_what_would_settle_it_is_a_plan_and_no_promise() -> None:
    assert settle_sentence(wash(7), 2700) == (
        "Was es entscheiden würde: etwa 2.400 weitere Bienen dieses Volkes, in Gläsern wie diesem, "
        "wenn sie denselben Wert zeigen. Ein Plan, kein Versprechen."
    )
    assert settle_yard_sentence(4, 3, 12).startswith(
        "Was es entscheiden würde: etwa 1 weiteres Volk, insgesamt 4 von 12, wenn es denselben Wert zeigt."
    )
    assert settle_yard_sentence(9, 3, 12).startswith(
        "Was es entscheiden würde: etwa 6 weitere Völker, insgesamt 9"
    )


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (level(act_at=0.667), "0,667 (ein Institut)"),
        (level(LevelUnit.PER_10_G, 1), "1 je 10 g Bienen, etwa 1 je 100 Bienen (ein Institut)"),
        (level(LevelUnit.PER_2_DAYS, 5, LevelKind.BOARD), "5 in 2 Tagen, 2,5 pro Tag (ein Institut)"),
        (
            level(LevelUnit.PERCENT_CELLS, 25, LevelKind.DRONE_BROOD),
            "25 von 100 Drohnenzellen (ein Institut)",
        ),
        (level(act_at=None), "keine Schadensschwelle (ein Institut)"),
    ],
)
def test_levels_are_told_as_published(one: Level, words: str) -> None:
    assert level_words(one) == words


def test_gaps_and_questions_and_figures() -> None:
    jar = JarSample(73, 300, BeesBy.VOLUME, Method.ALCOHOL_WASH)

    assert gap_sentence(level(), 3.5) == (
        "Die veröffentlichte Tabelle (ein Institut) sagt nichts über 3,5. Wir lassen es offen."
    )
    assert (
        question_sentence(Question.MANY_MITES, jar)
        == "73 Milben von 300 Bienen sind 24,3 je 100. Stimmt das?"
    )
    assert question_sentence(Question.LONG_BOARD, BoardSample(3, 10.5)) == (
        "10,5 Tage Liegezeit: Ameisen tragen Milben weg. Stimmt das?"
    )
    assert per_day(1234.5) == "1.234,5"


def test_tables_stay_the_keys_of_the_catalogue() -> None:
    """Whoever shows a word of a table says it then; the table itself is the same in every language."""
    assert REFUSAL_SENTENCES[Refusal.NO_BEES] == "No bees were counted, so there is no rate."
    assert STANDING_WORDS[Standing.BELOW] == "below the action level"


# Pages


def test_pages_of_counts_speak_german_to_who_reads_it(cast: Any, client_for: Any) -> None:
    choose_language(person=cast.alice, language="de", by=cast.alice)
    cast.alice.refresh_from_db()
    client = client_for(cast.alice)
    yard = cast.alice_yard.pk

    count = client.get(reverse("counts:yard-count", args=[yard])).content.decode()
    plan = client.get(reverse("counts:sampling-plan", args=[yard])).content.decode()

    assert "Einen ganzen Stand zählen" in count and "Puderzuckerprobe" in count
    assert "Eine halbe Tasse (US, 118 ml), als" in count and "Wie haben Sie gezählt?" in count
    assert "Welche Völker in die Stichprobe" in plan and "Milben je 100 Bienen" in plan
