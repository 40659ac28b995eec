"""Which counts stand before and after a treatment, and what they say together."""

import datetime as dt
from typing import Any

import pytest

from apiaries.actions import add_yard, move_colony
from apiaries.models import Brood
from counts.actions import NewCount, correct_sample, void_sample
from counts.samples import BeesBy, Kind, Method
from tests.cast import Cast
from tests.treatments.making import AFTER, BEFORE, GIVEN, LATER, TODAY, board, jar, treat
from treatments.actions import cancel_treatment, skip_recount
from treatments.outcome import Reason, Verdict
from treatments.recount_rules import RecountStatus
from treatments.results import recount_statuses, result_of, results_for
from treatments.sentences import Note

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]


def counted(cast: Cast, before: list[int], after: list[int], **more: Any) -> None:
    """Colonies 1, 2, … counted before and after."""
    for colony, first, second in zip(cast.colonies, before, after, strict=False):
        jar(colony, BEFORE, first, **more)
        jar(colony, AFTER, second, **more)


def test_five_colonies_give_the_worked_example(cast: Cast) -> None:
    treatment = treat(cast.colonies[:5])
    counted(cast, [14, 22, 6, 9, 9], [1, 0, 2, 0, 0])
    result = result_of(treatment, TODAY)
    # fixtures/worked_examples/drop_in_mites.csv, five_colonies_these: calculated, scipy.special.betaincinv
    assert (result.outcome.low, result.outcome.high) == pytest.approx((0.876443502, 0.983356612), abs=1e-8)
    assert (result.outcome.verdict, result.treated, result.kind) == (Verdict.WORKED, 5, Kind.WASH)
    assert (result.outcome.mites_before, result.outcome.mites_after) == (60, 3)


def test_growth_is_corrected_for_where_brood_was_not_absent(cast: Cast) -> None:
    treatment = treat(cast.colonies[:5])
    counted(cast, [14, 22, 6, 9, 9], [1, 0, 2, 0, 0], brood=Brood.SOME)
    result = result_of(treatment, TODAY)
    assert result.growing_days == result.days_between == 17
    assert result.outcome.seen is not None and result.outcome.seen.drop == pytest.approx(0.95)
    # 1 - 0.05 x exp(-0.02 x 17), by hand
    assert result.outcome.drop == pytest.approx(1 - 0.05 * 0.711770, abs=1e-5)
    assert Note.BROOD_PRESENT in result.notes


def test_days_of_the_treatment_itself_allow_no_growth(cast: Cast) -> None:
    out = dt.date(2026, 9, 14)
    treatment = treat(cast.colonies[:5], way="amitraz_strip_us", out_on=out)
    for colony in cast.colonies[:5]:
        jar(colony, BEFORE, 20, brood=Brood.PLENTY)
        jar(colony, out + dt.timedelta(days=14), 21, brood=Brood.PLENTY)

    result = result_of(treatment, dt.date(2026, 9, 30))

    # 2 days before the first dose and 14 after the last: 42 days with strips in the hive are no excuse
    assert (result.days_between, result.growing_days) == (58, 16)
    assert result.outcome.verdict is Verdict.DID_NOT_WORK


@pytest.mark.parametrize(
    ("before", "after", "days"),
    [
        (Brood.SOME, Brood.NONE, 2),  # those before the treatment
        (Brood.NONE, Brood.SOME, 15),  # those after it
        (Brood.NONE, Brood.NONE, 0),
        (Brood.UNKNOWN, Brood.NONE, 2),
        (Brood.NONE, Brood.UNKNOWN, 15),  # not looked at is not seen to be absent
    ],
)
def test_mites_are_taken_to_grow_only_where_brood_was_not_absent(
    cast: Cast, before: Brood, after: Brood, days: int
) -> None:
    treatment = treat(cast.colonies[:5])
    for colony in cast.colonies[:5]:
        jar(colony, BEFORE, 20, brood=before)
        jar(colony, AFTER, 1, brood=after)

    assert result_of(treatment, TODAY).growing_days == days


def test_rolls_that_find_unlike_shares_are_no_pair(cast: Cast) -> None:
    treatment = treat(cast.colonies[:1])
    jar(cast.colony, BEFORE, 60, method=Method.SUGAR_ROLL)
    jar(cast.colony, AFTER, 2, method=Method.CO2)

    outcome = result_of(treatment, TODAY).outcome

    assert (outcome.drop, outcome.reason) == (None, Reason.DIFFERENT_METHODS)


def test_a_count_that_allows_no_estimate_decides_nothing(cast: Cast) -> None:
    treatment = treat(cast.colonies[:1])
    board(cast.colony, BEFORE, 60)
    board(cast.colony, AFTER, 12, cells_counted=36, cells_total=108)

    result = result_of(treatment, TODAY)

    assert (result.outcome.verdict, result.done) == (Verdict.CANNOT_TELL, False)


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        ([50] * 6, [0] * 6, Verdict.WORKED),
        ([100] * 6, [15] * 6, Verdict.FELL_SHORT),  # 600 to 90: 85 %, target 90, floor 80
        ([30] * 6, [30] * 6, Verdict.DID_NOT_WORK),
        ([2] * 6, [0] * 6, Verdict.CANNOT_TELL),  # 12 before; 17 are needed for a floor of 80 %
    ],
)
def test_verdicts(cast: Cast, before: list[int], after: list[int], verdict: Verdict) -> None:
    treatment = treat(cast.colonies)
    counted(cast, before, after)
    assert result_of(treatment, TODAY).outcome.verdict is verdict


def test_too_few_mites_before_names_how_many_are_needed(cast: Cast) -> None:
    treatment = treat(cast.colonies)
    counted(cast, [2] * 6, [0] * 6)
    outcome = result_of(treatment, TODAY).outcome
    # ln 20 / ln(2 - 0.8), rounded up: 17
    assert (outcome.reason, outcome.mites_needed) == (Reason.TOO_FEW_TO_SAY_WORKED, 17)


def test_before_count_is_the_latest_suitable_one(cast: Cast) -> None:
    treatment = treat([cast.colony])
    for on, mites in [(dt.date(2026, 6, 1), 99), (dt.date(2026, 7, 20), 5), (BEFORE, 20), (AFTER, 1)]:
        jar(cast.colony, on, mites)
    assert [sample.mites for sample in result_of(treatment, TODAY).before] == [20]


def test_after_count_is_the_first_in_the_window(cast: Cast) -> None:
    treatment = treat([cast.colony])
    for on, mites in [(BEFORE, 20), (dt.date(2026, 8, 10), 7), (AFTER, 3), (dt.date(2026, 8, 25), 9)]:
        jar(cast.colony, on, mites)
    assert [sample.mites for sample in result_of(treatment, dt.date(2026, 9, 1)).after] == [3]


def test_jars_of_one_day_are_added_up(cast: Cast) -> None:
    treatment = treat([cast.colony])
    jar(cast.colony, BEFORE, 20)
    jar(cast.colony, BEFORE, 30, method=Method.SOAP_WASH)
    jar(cast.colony, AFTER, 2)
    outcome = result_of(treatment, TODAY).outcome
    assert outcome.mites_before == 50
    assert outcome.drop == pytest.approx(1 - (2 / 300) / (50 / 600))


def test_kinds_are_never_mixed_and_washes_come_first(cast: Cast) -> None:
    one, two, *_ = cast.colonies
    treatment = treat([one, two])
    for colony in (one, two):
        board(colony, BEFORE, 60)
        board(colony, AFTER, 6)
    assert result_of(treatment, TODAY).kind is Kind.BOARD
    jar(one, BEFORE, 30)
    jar(one, AFTER, 3)
    result = result_of(treatment, TODAY)
    assert result.kind is Kind.WASH
    assert [part.paired for part in result.per_colony] == [True, False]
    assert Note.SOME_NOT_COUNTED in result.notes


def test_another_method_after_is_no_answer(cast: Cast) -> None:
    treatment = treat([cast.colony])
    jar(cast.colony, BEFORE, 30)
    board(cast.colony, AFTER, 6)
    result = result_of(treatment, TODAY)
    assert (result.outcome.reason, result.done) == (Reason.DIFFERENT_METHODS, False)


def test_other_colonies_after_are_no_pair(cast: Cast) -> None:
    treatment = treat(cast.colonies[:2])
    jar(cast.colonies[0], BEFORE, 30)
    jar(cast.colonies[1], AFTER, 3)
    result = result_of(treatment, TODAY)
    assert (result.outcome.reason, result.done) == (Reason.NOT_PAIRED, True)


def test_boards_weigh_days_and_the_share_counted(cast: Cast) -> None:
    treatment = treat([cast.colony])
    board(cast.colony, BEFORE, 180, days="3")
    board(cast.colony, AFTER, 24, days="6", cells_counted=50, cells_total=100)
    outcome = result_of(treatment, TODAY).outcome
    # 60 a day before; 24 on half a board in 6 days: 8 a day after
    assert outcome.drop == pytest.approx(1 - 8 / 60)


def test_voided_and_corrected_counts_give_way(cast: Cast) -> None:
    treatment = treat([cast.colony])
    wrong = jar(cast.colony, BEFORE, 3)
    right = NewCount(cast.colony, Method.ALCOHOL_WASH, BEFORE, 30, bees=300, bees_by=BeesBy.COUNTED)
    correct_sample(sample=wrong, count=right, why="typing", at=LATER, by=cast.alice)
    after = jar(cast.colony, AFTER, 3)
    assert result_of(treatment, TODAY).outcome.mites_before == 30
    void_sample(sample=after, why="other hive", at=LATER, by=cast.alice)
    assert result_of(treatment, TODAY).outcome.drop is None


def test_moved_colony_keeps_its_counts(cast: Cast) -> None:
    treatment = treat([cast.colony])
    jar(cast.colony, BEFORE, 30)
    heath = add_yard(keeper=cast.alice, region=cast.north, name="Heath", by=cast.alice)
    move_colony(colony=cast.colony, to_yard=heath, moved_on=dt.date(2026, 8, 10), by=cast.alice)
    cast.colony.refresh_from_db()
    jar(cast.colony, AFTER, 1)
    result = result_of(treatment, TODAY)
    assert result.after[0].yard == heath
    assert (result.outcome.verdict, Note.MOVED in result.notes) == (Verdict.WORKED, True)


def test_next_dose_closes_the_window(cast: Cast) -> None:
    treatment = treat([cast.colony])
    treat([cast.colony], dt.date(2026, 8, 12), way="formic_gel_strip_us")
    jar(cast.colony, BEFORE, 30)
    jar(cast.colony, AFTER, 1)
    result = result_of(treatment, TODAY)
    assert (result.outcome.drop, result.done) == (None, False)


def test_earlier_dose_closes_the_time_before(cast: Cast) -> None:
    treat([cast.colony], dt.date(2026, 8, 2), way="hop_beta_acids_strip_us")
    treatment = treat([cast.colony])
    jar(cast.colony, BEFORE, 30)
    jar(cast.colony, AFTER, 1)
    assert result_of(treatment, TODAY).outcome.verdict is Verdict.NO_BEFORE_COUNT


def test_work_on_the_brood_closes_nothing(cast: Cast) -> None:
    treatment = treat([cast.colony])
    treat([cast.colony], dt.date(2026, 8, 12), way="drone_brood_removal_any")
    jar(cast.colony, BEFORE, 30)
    jar(cast.colony, AFTER, 1)
    assert result_of(treatment, TODAY).done


def test_too_early_before_the_window_and_after_an_early_count(cast: Cast) -> None:
    treatment = treat([cast.colony])
    jar(cast.colony, BEFORE, 30)
    assert result_of(treatment, dt.date(2026, 8, 16)).outcome.verdict is Verdict.TOO_EARLY
    assert result_of(treatment, TODAY).outcome.reason is Reason.NO_AFTER_COUNT
    jar(cast.colony, dt.date(2026, 8, 8), 1)
    assert result_of(treatment, TODAY).outcome.verdict is Verdict.TOO_EARLY


def test_no_before_count_is_said_at_once(cast: Cast) -> None:
    treatment = treat([cast.colony])
    jar(cast.colony, AFTER, 1)
    result = result_of(treatment, GIVEN)
    assert result.outcome.verdict is Verdict.NO_BEFORE_COUNT
    assert result_of(treatment, TODAY).recount_status is RecountStatus.DONE


def test_controls_are_a_second_answer(cast: Cast) -> None:
    treatment = treat(cast.colonies[:3])
    counted(cast, [20] * 6, [2, 2, 2, 30, 30, 30])
    result = result_of(treatment, TODAY)
    assert result.controls is not None and result.control_colonies == 3
    # Henderson & Tilton 1955: 1 - (6 x 60) / (60 x 90)
    assert result.controls.drop == pytest.approx(1 - (6 * 60) / (60 * 90))
    assert result.outcome.drop == pytest.approx(0.9)
    assert Note.OTHERS_UNTREATED in result.notes


def test_one_untreated_colony_or_a_dosed_one_is_no_control(cast: Cast) -> None:
    treatment = treat(cast.colonies[:4])
    counted(cast, [20] * 6, [2, 2, 2, 2, 30, 30])
    treat([cast.colonies[5]], dt.date(2026, 8, 5), way="formic_gel_strip_us", out_on=dt.date(2026, 8, 19))
    result = result_of(treatment, TODAY)
    assert (result.controls, result.control_colonies) == (None, 1)


def test_picking_the_highest_is_warned_of(cast: Cast) -> None:
    treatment = treat(cast.colonies[:3])
    counted(cast, [30, 25, 20, 5, 6, 7], [2, 2, 2, 5, 5, 5])
    assert result_of(treatment, TODAY).outcome.picked_high
    jar(cast.colonies[3], dt.date(2026, 8, 2), 26)
    assert not result_of(treatment, TODAY).outcome.picked_high


def test_without_a_published_bar_there_is_no_verdict(cast: Cast) -> None:
    treatment = treat(cast.colonies, way="drone_brood_removal_any")
    counted(cast, [30] * 6, [3] * 6)
    outcome = result_of(treatment, TODAY).outcome
    assert (outcome.verdict, outcome.reason) == (Verdict.CANNOT_TELL, Reason.NO_TARGET)
    assert outcome.drop == pytest.approx(0.9)


def test_synthetic_ingredients_have_the_higher_bar(cast: Cast) -> None:
    out = dt.date(2026, 9, 14)
    treatment = treat(cast.colonies, way="amitraz_strip_us", out_on=out)
    for colony in cast.colonies:
        jar(colony, BEFORE, 50)
        jar(colony, out + dt.timedelta(days=15), 5)
    result = result_of(treatment, dt.date(2026, 10, 1))
    assert result.target is not None and result.target.value == 0.95
    assert result.outcome.verdict is Verdict.FELL_SHORT


def test_recount_statuses_follow_the_day(cast: Cast) -> None:
    recount = treat([cast.colony]).recount
    days = {dt.date(2026, 8, 16): "not_due", dt.date(2026, 8, 17): "due", dt.date(2026, 9, 1): "late"}
    assert {day: recount_statuses([recount], day)[recount.pk] for day in days} == days
    jar(cast.colony, AFTER, 1)
    assert recount_statuses([recount], TODAY)[recount.pk] is RecountStatus.DONE


def test_skipped_cancelled_and_planned_recounts(cast: Cast) -> None:
    skipped = treat([cast.colony]).recount
    skip_recount(recount=skipped, why="sold", at=LATER, by=cast.alice)
    cancelled = treat([cast.colonies[1]])
    cancel_treatment(treatment=cancelled, why="rain", at=LATER, by=cast.alice)
    planned = treat([cast.colonies[2]], planned=[dt.date(2026, 5, 1)]).recount
    statuses = recount_statuses([skipped, cancelled.recount, planned], TODAY)
    assert list(map(str, statuses.values())) == ["skipped", "skipped", "not_due"]


def test_recount_is_not_due_while_something_is_in_the_hive(cast: Cast) -> None:
    recount = treat([cast.colony], way="formic_other_any").recount
    assert recount_statuses([recount], dt.date(2026, 9, 30))[recount.pk] is RecountStatus.NOT_DUE


def test_queries_do_not_grow_with_treatments(cast: Cast, django_assert_num_queries: Any) -> None:
    few = [treat([cast.colony])]
    many = [treat([colony], GIVEN) for colony in cast.colonies[1:]]
    counted(cast, [20] * 6, [2] * 6)
    with django_assert_num_queries(7):
        assert len(results_for(few, TODAY)) == 1
    with django_assert_num_queries(7):
        assert len(results_for([*few, *many], TODAY)) == 6
    recounts = [treatment.recount for treatment in [*few, *many]]
    with django_assert_num_queries(7):
        assert set(recount_statuses(recounts, TODAY).values()) == {RecountStatus.DONE}
