"""The pages of a sheet: sent, asked about, looked at, agreed to, brought in, undone."""

import datetime as dt
import io
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from openpyxl import Workbook

from apiaries.actions import end_helper
from apiaries.models import Colony, Person
from counts.actions import void_sample
from counts.imports.actions import bring_in_sheet
from counts.models import ImportBatch, ImportState, KnownHeading, MiteSample
from tests.cast import Cast
from tests.counts.counting import AT, kept
from tests.counts.importing import GOOD, HEAD, MIXED, sheet_of

Opens = Callable[[Person | None], Client]


@pytest.fixture
def alice(cast: Cast, client_for: Opens) -> Client:
    return client_for(cast.alice)


def send(client: Client, text: str | bytes, name: str = "counts 2026.csv") -> Any:
    data = text.encode() if isinstance(text, str) else text
    return client.post(reverse("counts:import-add"), {"file": SimpleUploadedFile(name, data)}, follow=True)


def page(client: Client, name: str, batch: ImportBatch, query: str = "") -> str:
    answer = client.get(reverse(f"counts:{name}", args=[batch.pk]) + query)
    assert answer.status_code == 200, answer
    return " ".join(answer.content.decode().split())


def post(client: Client, name: str, batch: ImportBatch, **data: Any) -> Any:
    return client.post(reverse(f"counts:{name}", args=[batch.pk]), data, follow=True)


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_sheet_goes_from_file_to_counts(alice: Client) -> None:
    told = text_of(send(alice, GOOD))

    assert "Bring in the 2 ready rows" in told
    assert "alcohol wash: 9 in about 300 bees" in told
    assert not MiteSample.objects.exists()
    done = text_of(post(alice, "import-bring-in", ImportBatch.objects.get()))
    assert "2 counts brought in." in done
    assert MiteSample.objects.count() == 2


def test_file_that_cannot_be_read_is_refused_where_it_was_chosen(alice: Client) -> None:
    for data, words in (
        (b"", "This file is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(500), "This is not a table"),
    ):
        told = text_of(send(alice, data))
        assert words in told
        assert "There is a problem" in told
    assert not ImportBatch.objects.exists()


def test_workbook_is_read_with_its_dates(alice: Client) -> None:
    book, file = Workbook(), io.BytesIO()
    sheet = book.active
    sheet.append(["Unsere Zählungen"])
    sheet.append(["Stand", "Volk", "Datum", "Methode", "Milben/300", "Bemerkung"])
    sheet.append(["Home yard", 1, dt.date(2026, 8, 12), "Puderzucker", 4, None])
    sheet.append(["Home yard", 2, 46246, "CO2", 0, "schwach"])
    book.save(file)

    send(alice, file.getvalue(), "Zählungen.xlsx")

    rows = ImportBatch.objects.get().staged.values_list("status", "sampled_on", "mites", "bees")
    assert list(rows) == [("ready", dt.date(2026, 8, 12), 4, 300), ("ready", dt.date(2026, 8, 12), 0, 300)]


def test_other_sheets_of_a_workbook_are_named_and_have_headings_of_their_own(alice: Client) -> None:
    book, file = Workbook(), io.BytesIO()
    first, second = book.active, book.create_sheet("2025")
    first.title = "2026"
    for line in (
        ["Our counts"],
        HEAD.strip().split(","),
        ["Home yard", 1, dt.date(2026, 8, 12), "co2", 4, 300],
    ):
        first.append(line)
    for line in (HEAD.strip().split(","), ["Home yard", 2, dt.date(2026, 7, 12), "co2", 1, 300]):
        second.append(line)
    book.save(file)

    told = text_of(send(alice, file.getvalue(), "counts.xlsx"))
    assert "This workbook has 1 more sheet: 2025. Only 2026 is read." in told
    batch = ImportBatch.objects.get()
    assert batch.taken_for["header_row"] == 2
    told = text_of(post(alice, "import-file", batch, sheet="2025", header_row="2"))
    assert "This workbook has 1 more sheet: 2026. Only 2025 is read." in told
    assert "Bring in the 1 ready row" in told
    batch.refresh_from_db()
    assert (batch.taken_for["header_row"], batch.choices.get("header_row")) == (1, None)


def test_same_file_again_is_told_and_not_forbidden(alice: Client) -> None:
    send(alice, GOOD)

    assert "You sent this very file on" in text_of(send(alice, GOOD, "renamed.csv"))


def test_days_of_a_sheet_are_those_of_the_readers_clock(alice: Client, cast: Cast) -> None:
    late = dt.datetime(2026, 8, 12, 23, 30, tzinfo=dt.UTC)  # the 13th, 01:30, in Berlin
    send(alice, GOOD)
    batch = ImportBatch.objects.get()
    ImportBatch.objects.update(at=late)

    assert "Sent on 13 Aug 2026" in page(alice, "import-detail", batch)
    assert "13 Aug 2026" in text_of(alice.get(reverse("counts:import-list")))
    again = text_of(send(alice, GOOD))
    assert again.count("You sent this very file on 13 Aug 2026, too.") == 2  # said once, and kept on the page
    bring_in_sheet(batch=batch, at=late, by=cast.alice)
    assert "2 counts were brought in on 13 Aug 2026." in page(alice, "import-detail", batch)


def test_unclear_headings_lead_to_their_page_and_are_remembered(alice: Client, cast: Cast) -> None:
    text = "Wer,Wann genau,Was,mites,bees\n1,2026-08-12,co2,9,300\n"
    asked = text_of(send(alice, text))
    assert "What do the columns hold?" in asked
    assert "For example: 2026-08-12" in asked

    batch = ImportBatch.objects.get()
    wrong = post(alice, "import-headings", batch, column_0="colony", column_1="colony")
    assert "Another column is already the colony" in text_of(wrong)
    assert "Choose the column that holds the date of the count" in text_of(wrong)
    chosen = {
        "column_0": "colony",
        "column_1": "date",
        "column_2": "method",
        "column_3": "mites",
        "column_4": "bees",
    }
    told = text_of(post(alice, "import-headings", batch, **chosen, remember="on"))
    assert "Bring in the 1 ready row" in told
    assert set(KnownHeading.objects.values_list("heading", "column")) == {
        ("wer", "colony"), ("wann genau", "date"), ("was", "method"),
    }  # fmt: skip
    assert "Bring in the" in text_of(send(alice, text + "2,2026-08-12,co2,9,300\n"))


def test_days_with_two_meanings_are_asked_once(alice: Client) -> None:
    told = text_of(send(alice, HEAD + "Home yard,1,03/07/26,co2,9,300\nHome yard,2,03/07/26,co2,1,300\n"))
    assert "Which comes first in dates such as 03/04/26?" in told

    batch = ImportBatch.objects.get()
    answer = post(alice, "import-answers", batch, order="day_first")
    assert "Bring in the 2 ready rows" in text_of(answer)
    assert "3 Jul 2026" in text_of(answer)


def test_what_rows_leave_open_is_said_for_all(alice: Client, cast: Cast) -> None:
    send(alice, "yard,hive,date,method,mites\nGarden,1,2026-08-12,Wash,9\nHome yard,2,2026-08-12,,9\n")
    batch = ImportBatch.objects.get()
    told = page(alice, "import-answers", batch)

    for words in ("How were these counted?", "Which method is “Wash”?", "Which yard is “Garden”?"):
        assert words in told
    said = {"method": "co2", "word_0": "soap_wash", "yard_0": cast.alice_yard.pk}
    told = text_of(post(alice, "import-answers", batch, **said))
    assert "bees missing" in told
    assert "Bring in the 2 ready rows" in text_of(
        post(alice, "import-answers", batch, **said, measure="half_cup")
    )


def test_answers_about_words_of_the_sheet_can_be_taken_back(alice: Client, cast: Cast) -> None:
    rows = (
        "Garden,1,2026-08-12,Wash,9,300\nGARDEN,2,2026-08-12,co2,9,300\nHome yard,2,2026-08-12,Wash,9,300\n"
    )
    send(alice, HEAD + rows)
    batch = ImportBatch.objects.get()

    left = text_of(post(alice, "import-answers", batch, word_0="soap_wash", yard_0="0"))
    assert "Bring in the 1 ready row" in left
    assert "<dt>Rows left out, as you said</dt><dd>2</dd>" in left
    asked = page(alice, "import-answers", batch)
    assert "Which method is “wash”?" in asked
    assert "Which yard is “garden”?" in asked
    taken_back = text_of(post(alice, "import-answers", batch, word_0="", yard_0=""))
    assert "Rows left out, as you said" not in taken_back
    assert "No row is ready" in taken_back
    batch.refresh_from_db()
    assert not {"yards", "method_words"} & set(batch.choices)


def test_another_row_of_headings_can_be_said(alice: Client) -> None:
    send(alice, GOOD)
    batch = ImportBatch.objects.get()

    wrong = post(alice, "import-file", batch, encoding="utf-8", delimiter=",", header_row="99")
    assert "Headings stand in one of the first 20 rows." in text_of(wrong)
    told = text_of(post(alice, "import-file", batch, encoding="utf-8", delimiter=",", header_row="2"))
    assert "What do the columns hold?" in told


def test_rows_are_told_by_status_and_reason(alice: Client, cast: Cast) -> None:
    batch = sheet_of(cast.alice, MIXED)

    told = page(alice, "import-detail", batch)
    assert "very many mites</a>: 1 row" in told
    assert "The 1 row is right: very many mites" in told
    assert "Set up 1 colony first" in told
    look = page(alice, "import-rows", batch, "?status=look")
    assert "73 mites of 300 bees is 24.3 per 100" in look
    assert "There is no yard called Nowhere" not in look
    assert "There is no yard called Nowhere" in page(alice, "import-rows", batch, "?kind=yard_unknown")
    assert "No rows match" in page(alice, "import-rows", batch, "?status=here&kind=nonsense")


def test_rows_are_agreed_to_one_by_one_or_by_kind(alice: Client, cast: Cast) -> None:
    batch = sheet_of(cast.alice, MIXED)

    assert "Agreed to 1 row." in text_of(post(alice, "import-agree", batch, row="4", **{"from": "rows"}))
    assert "Bring in the 3 ready rows" in page(alice, "import-detail", batch)
    post(alice, "import-agree", batch, back="1")
    assert "Bring in the 2 ready rows" in page(alice, "import-detail", batch)
    assert "Agreed to 1 row." in text_of(post(alice, "import-agree", batch, kind="many_mites"))
    for odd in ({"row": "x"}, {"row": "9" * 40}, {"kind": "nonsense"}, {"kind": "not_counted"}, {}):
        assert post(alice, "import-agree", batch, **odd).status_code == 200
    assert "Bring in the 3 ready rows" in page(alice, "import-detail", batch)


def test_file_of_problems_is_guarded_and_comes_back_as_it_was(alice: Client, cast: Cast) -> None:
    evil = "=cmd|' /C calc'!A0"
    batch = sheet_of(
        cast.alice, "yard,hive,date,method,mites,bees,note\nNowhere,1,2026-08-12,co2,-4,300," + evil + "\n"
    )

    answer = alice.get(reverse("counts:import-problems-csv", args=[batch.pk]))
    lines = answer.content.decode("utf-8-sig").splitlines()

    assert answer["Content-Disposition"] == f'attachment; filename="rows-not-brought-in-{batch.pk}.csv"'
    assert lines[0] == "yard,hive,date,method,mites,bees,note,Row,Status,Why"
    assert lines[1].startswith(
        "Nowhere,1,2026-08-12,co2,'-4,300,'=cmd|' /C calc'!A0,2,error,“-4” is not a whole"
    )
    mended = answer.content.replace(b"'-4", b"4").replace(b"Nowhere", b"Home yard")
    send(alice, mended, "mended.csv")
    row = ImportBatch.objects.first().staged.get()
    assert (row.status, row.mites, row.note) == ("ready", 4, evil)


def test_missing_colonies_are_set_up_from_the_page(alice: Client, cast: Cast) -> None:
    send(alice, HEAD + "Home yard,44,2026-08-12,co2,2,300\nHome yard,45,2021-08-12,co2,2,300\n")
    batch = ImportBatch.objects.get()
    assert "Colony 44 in Home yard" in page(alice, "import-colonies", batch)

    none = post(alice, "import-colonies", batch, colony_0="", colony_1="")
    assert "Choose at least one colony to be set up." in text_of(none)
    silent = post(alice, "import-colonies", batch, colony_0="here", colony_1="gone", why_gone="")
    assert "Say what became of them" in text_of(silent)
    told = post(alice, "import-colonies", batch, colony_0="here", colony_1="gone", why_gone="not noted")
    assert "2 colonies set up." in text_of(told)
    assert "Bring in the 2 ready rows" in text_of(told)
    assert Colony.objects.get(name="45").ended_why == "not noted"


def test_sheet_is_undone_with_a_reason_and_the_page_names_what_was_left(alice: Client, cast: Cast) -> None:
    batch = bring_in_sheet(batch=sheet_of(cast.alice, GOOD), at=AT, by=cast.alice)
    ImportBatch.objects.update(brought_at=timezone.now())
    assert "Undo the whole sheet" in page(alice, "import-detail", batch)

    assert "Say why" in text_of(post(alice, "import-undo", batch, why=" "))
    told = text_of(post(alice, "import-undo", batch, why="day and month mixed up"))
    assert "Sheet undone." in told
    assert "day and month mixed up" in told
    assert "2 voided, 0 left. Where its counts moved back the day" in told
    assert not MiteSample.objects.standing().exists()
    assert "Nothing was changed" in text_of(post(alice, "import-undo", batch, why="again"))


def test_undoing_says_before_and_after_what_stays(alice: Client, cast: Cast) -> None:
    batch = bring_in_sheet(batch=sheet_of(cast.alice, GOOD), at=AT, by=cast.alice)
    ImportBatch.objects.update(brought_at=timezone.now())
    void_sample(sample=MiteSample.objects.get(mites=9), why="spilt", at=AT, by=cast.alice)

    before = page(alice, "import-undo", batch)
    assert "1 of them was voided or corrected since, and stays as it is." in before
    assert "moved back the day since which a colony is noted as here" in before
    assert "1 voided, 1 left." in text_of(post(alice, "import-undo", batch, why="wrong year"))


def test_who_no_longer_helps_is_told_that_there_is_nothing_to_void(client_for: Opens, cast: Cast) -> None:
    batch = bring_in_sheet(batch=sheet_of(cast.bob, GOOD), at=AT, by=cast.bob)
    ImportBatch.objects.update(brought_at=timezone.now())
    end_helper(helper=cast.alice_yard.helpers.get(), at=AT, by=cast.alice)
    bob = client_for(cast.bob)

    assert "2 of them are not yours to void any more" in page(bob, "import-undo", batch)
    told = text_of(post(bob, "import-undo", batch, why="wrong year"))
    assert "None of its counts is left that you may void." in told
    assert MiteSample.objects.standing().count() == 2


def test_sheet_can_be_put_aside(alice: Client, cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)

    assert "Sheet put aside." in text_of(post(alice, "import-put-aside", batch))
    assert "Nothing of this sheet was brought in." in page(alice, "import-detail", batch)
    assert "Nothing was changed" in text_of(post(alice, "import-bring-in", batch))


def test_nothing_ready_is_said_and_not_an_error(alice: Client, cast: Cast) -> None:
    batch = sheet_of(cast.alice, HEAD + "Nowhere,1,2026-08-12,co2,1,300\n")

    assert "No row is ready" in page(alice, "import-detail", batch)
    assert "No row of this sheet is ready" in text_of(post(alice, "import-bring-in", batch))


def test_page_says_that_something_changed_meanwhile(alice: Client, cast: Cast) -> None:
    send(alice, GOOD)
    kept(cast.colony, cast.bob, 4, 300)

    told = text_of(post(alice, "import-bring-in", ImportBatch.objects.get()))

    assert "Yards, colonies or counts changed since you looked at the sheet, so it was read again." in told
    assert "Bring in the 1 ready row" in told
    assert MiteSample.objects.count() == 1


@pytest.mark.parametrize("state", ["reading", "bringing", "failed"])
def test_page_says_in_words_how_far_it_is(alice: Client, cast: Cast, state: str) -> None:
    batch = sheet_of(cast.alice, GOOD)
    refusal = {"code": "not-brought", "values": {}} if state == "failed" else None
    ImportBatch.objects.update(state=state, refusal=refusal)
    batch.work.__class__.objects.update(rows_done=40, rows_total=100)

    told = page(alice, "import-detail", batch)

    words = {
        "reading": "40 of 100 rows are read.",
        "bringing": "in one step, or none",
        "failed": "none of them was",
    }
    assert words[state] in told
    asked = {"import-headings", "import-answers", "import-file"} if state == "failed" else set()
    for name in ("import-headings", "import-answers", "import-file", "import-colonies"):
        answer = alice.get(reverse(f"counts:{name}", args=[batch.pk]), follow=True)
        opened = not answer.redirect_chain
        assert (name, opened) == (name, name in asked)
        assert opened or "This sheet is being read, or somebody was quicker." in text_of(answer)


def test_who_keeps_and_helps_nowhere_is_told_whose_counts_they_could_bring(
    client_for: Opens, cast: Cast
) -> None:
    dana = client_for(cast.dana)

    told = text_of(dana.get(reverse("counts:import-add")))

    assert "A sheet covers yards that you keep or help in, and you have none." in told
    assert "Nothing" not in text_of(send(dana, GOOD))
    assert not ImportBatch.objects.exists()
    assert reverse("counts:import-list") in text_of(dana.get(reverse("counts:import-list")))


def test_list_tells_how_far_each_sheet_is(alice: Client, cast: Cast) -> None:
    assert "No sheets yet" in text_of(alice.get(reverse("counts:import-list")))
    bring_in_sheet(batch=sheet_of(cast.alice, GOOD), at=AT, by=cast.alice)
    sheet_of(cast.alice, MIXED, name="later.csv")

    told = text_of(alice.get(reverse("counts:import-list")))

    assert '<td data-label="How far"><span>brought in</span></td>' in told
    assert '<td data-label="Counts brought in" class="number">2</td>' in told
    assert "later.csv" in told
    assert f'<td data-label="How far"><span>{ImportState.LOOK.label}</span></td>' in told
