"""When to recount, and which counts can stand before and after a treatment."""

import datetime as dt

import pytest

from treatments.recount_rules import (
    Fit,
    RecountRule,
    RecountStatus,
    Window,
    after_fit,
    before_fit,
    recount_status,
    recount_window,
    wanted_kinds,
)

END = dt.date(2026, 8, 31)
# At least 14 days after the end: Dietemann et al. 2013, COLOSS BEEBOOK II varroa 4.5.4.
# The latest day is our own choice.
RULE = RecountRule(
    14, 14, 28, "wash", "capped brood has hatched", "COLOSS BEEBOOK II varroa 4.5.4", "published"
)
WINDOW = recount_window(RULE, END)


def day(number):
    return END + dt.timedelta(days=number)


def after(number, **other):
    facts = {"sample_kind": "wash", "sampled_on": day(number), "voided": False, "wanted_kind": "wash"}
    return after_fit(**(facts | {"window": WINDOW} | other))


def before(number, **other):
    facts = {"sample_kind": "wash", "sampled_on": day(number), "voided": False, "wanted_kind": "wash"}
    return before_fit(**(facts | {"first_dose_on": END} | other))


def test_window_counts_from_the_last_day():
    assert Window(dt.date(2026, 9, 14), dt.date(2026, 9, 14), dt.date(2026, 9, 28)) == WINDOW


@pytest.mark.parametrize(
    ("number", "status"),
    [(13, "not_due"), (14, "due"), (28, "due"), (29, "late"), (400, "late")],
)
def test_status_of_an_open_recount(number, status):
    assert recount_status(WINDOW, day(number), done=False, skipped=False) == RecountStatus(status)


def test_status_done_wins_over_skipped_and_late():
    assert recount_status(WINDOW, day(99), done=True, skipped=True) is RecountStatus.DONE
    assert recount_status(WINDOW, day(99), done=False, skipped=True) is RecountStatus.SKIPPED


@pytest.mark.parametrize(
    ("number", "fit"),
    [(13, "too_early"), (14, "suitable"), (28, "suitable"), (56, "suitable"), (57, "too_late")],
)
def test_after_count_by_day(number, fit):
    assert after(number) == Fit(fit)


def test_after_count_names_what_is_against_it():
    assert after(20, voided=True) is Fit.VOIDED
    assert after(20, sample_kind="board") is Fit.OTHER_KIND
    assert after(20, treatment_in_hive=True) is Fit.TREATMENT_IN_HIVE
    assert after(20, next_dose_on=day(19)) is Fit.AFTER_NEXT_DOSE
    assert after(20, next_dose_on=day(20)) is Fit.SUITABLE


@pytest.mark.parametrize(
    ("wanted", "kind", "fit"),
    [
        ("either", "board", "suitable"),
        ("either", "roll", "suitable"),
        ("either", "drone_brood", "other_kind"),
        ("jar", "wash", "suitable"),
        ("jar", "board", "other_kind"),
        ("roll", "wash", "other_kind"),
    ],
)
def test_after_count_of_the_kind_a_rule_accepts(wanted, kind, fit):
    assert after(20, wanted_kind=wanted, sample_kind=kind) == Fit(fit)


@pytest.mark.parametrize(
    ("number", "fit"), [(-36, "too_early"), (-35, "suitable"), (0, "suitable"), (1, "too_late")]
)
def test_before_count_by_day(number, fit):
    assert before(number) == Fit(fit)


def test_before_count_names_what_is_against_it():
    assert before(-3, voided=True) is Fit.VOIDED
    assert before(-3, sample_kind="roll") is Fit.OTHER_KIND
    assert before(-3, treatment_in_hive=True) is Fit.TREATMENT_IN_HIVE


@pytest.mark.parametrize(
    ("rule", "before", "wanted"),
    [
        ("either", [], {"wash", "roll", "board"}),
        ("either", ["wash"], {"wash"}),
        ("either", ["board", "roll"], {"board", "roll"}),
        ("jar", ["board"], {"wash", "roll"}),  # a board before does not make a board after suit a jar rule
        ("wash", ["roll"], {"wash"}),
    ],
)
def test_wanted_kinds_follow_the_before_counts(rule: str, before: list[str], wanted: set[str]) -> None:
    assert wanted_kinds(rule, before) == wanted


def test_count_from_before_another_dose_does_not_stand_before() -> None:
    day = dt.date(2026, 8, 1)
    later = day + dt.timedelta(days=3)
    fits = [
        before_fit(
            sample_kind="wash",
            sampled_on=day,
            voided=False,
            wanted_kind="wash",
            first_dose_on=later,
            other_dose_on=day + dt.timedelta(days=shift),
        )
        for shift in (-1, 0, 1)
    ]
    assert fits == [Fit.SUITABLE, Fit.BEFORE_OTHER_DOSE, Fit.BEFORE_OTHER_DOSE]
