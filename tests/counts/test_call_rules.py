"""When a yard is asked for a count, over all years, months and calendars; and which counts answer."""

import calendar
import datetime as dt
import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counts.call_rules import (
    Call,
    CallWhy,
    again_call,
    again_subject,
    answers_call,
    blocked_by,
    calendar_call,
    calendar_subject,
    month_call,
    week_call,
    week_subject,
    yard_of,
)
from counts.samples import Kind

D = dt.date
calm = settings(deadline=None, derandomize=True, max_examples=300)
days = st.dates(D(1990, 1, 1), D(2098, 12, 31))
months = st.sets(st.integers(1, 12))
spans = st.integers(0, 120).map(lambda number: dt.timedelta(days=number))
ONE_DAY = dt.timedelta(days=1)


def calls() -> st.SearchStrategy[Call]:
    """A call of any kind."""
    return st.one_of(
        st.builds(lambda on, some: month_call(on.replace(day=1), some), days, months),
        st.builds(lambda on, span: week_call(on, on + span), days, spans),
        st.builds(lambda on, span: again_call(on + span, on), days, spans),
    )


@calm
@given(calls())
def test_days_of_a_call_are_in_order(call):
    assert call.answered_from <= call.first_on <= call.last_on <= call.over_on
    assert call.is_spoken_of(call.first_on) and call.is_spoken_of(call.over_on)
    assert not call.is_spoken_of(call.first_on - ONE_DAY) and not call.is_spoken_of(call.over_on + ONE_DAY)


@calm
@given(days, months)
def test_calendar_asks_all_month_and_a_week_more(on, chosen):
    call = calendar_call(on, chosen)
    before = on.replace(day=1) - ONE_DAY

    if on.month in chosen:
        last = calendar.monthrange(on.year, on.month)[1]
        assert call is not None
        assert (call.first_on, call.last_on) == (on.replace(day=1), on.replace(day=last))
    elif before.month in chosen and on.day <= 7:
        assert call is not None and call.last_on == before and call.over_on == on.replace(day=7)
    else:
        assert call is None


@calm
@given(days, months)
def test_no_day_belongs_to_two_calls_of_the_calendar(on, chosen):
    firsts = {(on.replace(day=1) - dt.timedelta(days=back)).replace(day=1) for back in (0, 1, 40)}
    spoken = [month_call(first, chosen) for first in firsts if first.month in chosen]

    assert sum(call.is_spoken_of(on) for call in spoken) <= 1


def test_month_after_month_each_asks_anew():
    assert month_call(D(2026, 8, 1), {8, 9}).over_on == D(2026, 8, 31)
    assert month_call(D(2026, 12, 1), {1, 12}).over_on == D(2026, 12, 31)
    assert month_call(D(2026, 12, 1), {12}).over_on == D(2027, 1, 7)
    assert calendar_call(D(2026, 9, 1), {8, 9}) == month_call(D(2026, 9, 1), {8, 9})


def test_empty_calendar_asks_for_nothing():
    assert calendar_call(D(2026, 8, 1), ()) is None


def test_outlook_asks_a_week_ahead_and_two_weeks_after():
    call = again_call(D(2026, 8, 20), D(2026, 7, 1))
    assert (call.first_on, call.last_on, call.over_on) == (D(2026, 8, 13), D(2026, 8, 20), D(2026, 9, 3))


def test_outlook_leaves_a_keeper_alone_for_a_week_after_the_count():
    call = again_call(D(2026, 8, 1), D(2026, 8, 1))
    assert (call.first_on, call.last_on, call.over_on) == (D(2026, 8, 8), D(2026, 8, 8), D(2026, 8, 22))


@calm
@given(calls(), st.sampled_from(Kind), st.integers(-200, 200))
def test_count_answers_by_its_kind_and_day(call, kind, offset):
    on = call.first_on + dt.timedelta(days=offset)
    fits = kind in (Kind.WASH, Kind.ROLL) or (kind is Kind.BOARD and call.why is not CallWhy.OUTLOOK)
    in_window = call.answered_from <= on <= call.over_on

    assert answers_call(call, kind=kind, sampled_on=on) is (fits and in_window)


@calm
@given(calls(), st.sampled_from(Kind), st.booleans(), st.booleans())
def test_voided_counts_and_those_under_a_treatment_never_answer(call, kind, voided, in_hive):
    answered = answers_call(
        call, kind=kind, sampled_on=call.first_on, voided=voided, treatment_in_hive=in_hive
    )
    assert not (answered and (voided or in_hive))
    if not voided and not in_hive:
        assert answered is answers_call(call, kind=kind, sampled_on=call.first_on)


def test_outlook_is_not_answered_by_the_count_it_rests_on():
    call = again_call(D(2026, 8, 20), D(2026, 7, 1))
    answered = [answers_call(call, kind=Kind.WASH, sampled_on=on) for on in (D(2026, 7, 1), D(2026, 7, 2))]
    assert answered == [False, True]


@calm
@given(calls(), days, spans)
def test_blocked_exactly_where_a_day_is_shared(call, first, span):
    shared = max(call.first_on, first) <= min(call.last_on, first + span)
    assert blocked_by(call, first, first + span) is shared


@pytest.mark.parametrize(
    ("last", "blocked"), [(D(2026, 7, 31), False), (D(2026, 8, 1), True), (D(2026, 9, 1), True)]
)
def test_recount_that_ends_the_day_before_blocks_nothing(last, blocked):
    assert blocked_by(month_call(D(2026, 8, 1), {8}), D(2026, 7, 20), last) is blocked


def test_subjects_name_their_yard():
    subjects = [
        calendar_subject(7, D(2026, 8, 1)),
        again_subject(7, D(2026, 8, 20)),
        week_subject(3, 7),
    ]
    assert subjects == ["count:7:2026-08", "again:7:2026-08-20", "week:3:7"]
    assert [yard_of(subject) for subject in subjects] == [7, 7, 7]
    assert all(len(week_subject(2**63 - 1, 2**63 - 1)) <= 60 for _ in subjects)


@pytest.mark.parametrize(
    "subject", ["", "recount:7", "count:7", "count::2026-08", "count:x:2026-08", "week:3:²", "count:7:8:9"]
)
def test_other_subjects_name_no_yard(subject):
    assert yard_of(subject) is None


def test_a_yard_asked_by_several_is_asked_in_this_order():
    assert list(CallWhy) == [CallWhy.WEEK, CallWhy.OUTLOOK, CallWhy.CALENDAR]
    assert len(set(itertools.chain(CallWhy))) == 3
