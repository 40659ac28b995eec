"""What a past can tell is complete: every column of every told table has words, or a reason why it is left out."""

import importlib
import pkgutil

from django.apps import apps

from apiaries.history import ACTIONS
from apiaries.row_history import event_model
from apiaries.telling import facts, names

ELSEWHERE = {
    "apiaries.Person": "their own settings, and the address they sign in with: nobody else's to read",
    "apiaries.Invitation": "the list of members shows those that are open; who joined stands in the membership",
    "apiaries.AccessToken": "the page of tokens shows each with when it was made and revoked",
    "apiaries.Leaving": "the person's own page says when, the members' page of an administrator too",
    "apiaries.Visit": "a report stays as it was recorded; a correction is the next version, and both can be read",
    "apiaries.VisitFinding": "part of a report",
    "apiaries.VisitSuspicion": "part of a report",
    "apiaries.VisitOrder": "part of a report; the follow-ups say when it was closed, by whom",
    "apiaries.LabSample": "part of a report; what came back is added once",
    "counts.ImportBatch": "the page of the sheet says who sent it, brought it in and undid it, and when",
    "counts.KnownHeading": "each sheet's page shows what its headings were taken for",
    "counts.CountLeftOut": "one row that is never changed; the yard's page and the list of what is due tell it",
    "reports.Bulletin": "issued bulletins stay as they are; the page says who issued and withdrew one",
    "reports.CalendarFeed": "the calendar's page shows each address with when it was made and revoked",
    "reports.PutOff": "a person's own list of what is due",
    "reports.Notice": "the operator's page shows mails that wait or failed; nobody else's to read",
}
"""Tables that keep a history which is not told as a fact's past, and why."""
WRITE_NOTHING_TOLD = {
    # people's own settings, invitations
    "add_person",
    "update_person",
    "choose_language",
    "set_operator",
    "stop_daily_mail",
    "stop_calls",
    "stop_bulletins",
    "invite",
    "withdraw_invitation",
    "reset_second_step",
    # tokens for programs
    "make_token",
    "revoke_token",
    # sign-ins, which are no facts
    "end_sign_in",
    "end_all_sign_ins",
    "end_other_sign_ins",
    # why there is no count; ticks on a sheet, which are facts of their own
    "leave_out_count",
    "mark_hive",
    "undo_mark",
    # of reports
    "lift_suspension",
    "make_calendar_feed",
    "revoke_calendar_feed",
    "open_public_page",
    "close_public_page",
    "stop_mails",
    "count_by_link",
    "put_off",
    "bring_back",
    "send_again",
    "make_bulletin",
    "set_foreword",
    "issue_bulletin",
    "withdraw_bulletin",
    # sheets and files before and after they are brought in
    "take_in_sheet",
    "answer_about_sheet",
    "remember_headings",
    "agree_to_rows",
    "take_agreement_back",
    "begin_bringing_in",
    "look_again",
    "put_sheet_aside",
    "keep_returned_file",
    "give_up_file",
    # wishes to be forgotten
    "ask_to_leave",
    "call_off_leaving",
    "rehearse_forgetting",
}
"""Actions that write none of the tables that are told; beside those of modules about visits."""


def _tracked() -> set[str]:
    found = set()
    for model in apps.get_models(include_auto_created=True):
        try:
            event_model(model)
        except LookupError:
            continue
        if not model._meta.auto_created:
            found.add(model._meta.label)
    return found


def test_every_table_with_a_history_is_told_or_says_where_else() -> None:
    told = {one.model._meta.label for one in facts.tables}

    assert told | set(ELSEWHERE) == _tracked()
    assert not told & set(ELSEWHERE)


def test_every_column_has_words_or_a_reason() -> None:
    for told in facts.tables:
        columns = {one.name for one in told.model._meta.concrete_fields} - {"id"}
        also = {name for one in told.fields.values() for name in one.also}
        said = [*told.fields, *also, *told.left_out, *told.why]
        assert set(said) == columns, told.model
        assert len(said) == len(set(said)), told.model
        assert all(one.label for one in told.fields.values())
        assert all(told.left_out.values()), told.model


def test_everything_that_a_told_column_points_to_has_a_name() -> None:
    for told in facts.tables:
        for name in told.fields:
            column = told.model._meta.get_field(name)
            assert not column.is_relation or column.related_model in names, (told.model, name)


def test_every_action_has_words_or_writes_nothing_told() -> None:
    for name in ("apiaries", "counts", "treatments", "reports"):
        package = importlib.import_module(name)
        for module in pkgutil.walk_packages(package.__path__, f"{name}."):
            if ".migrations" not in module.name and ".management" not in module.name:
                importlib.import_module(module.name)

    ours = {
        verb
        for verb, module in ACTIONS.items()
        if not module.startswith("test") and "visit" not in module.rpartition(".")[2]
    }
    assert set(facts.verbs) == ours - WRITE_NOTHING_TOLD
    assert ours >= WRITE_NOTHING_TOLD
