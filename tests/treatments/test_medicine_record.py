"""The medicine record as a page, as a sheet for spreadsheets and on paper: the same facts, and nothing runs as code."""

import csv
import datetime as dt
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from apiaries.actions import add_numbered_colonies, add_yard, set_sharing
from apiaries.language import listed
from apiaries.models import Person
from apiaries.paper import Paper
from apiaries.sheet_out import csv_file, guarded
from tests.cast import STARTED, Cast
from tests.flows.forms import fields_of
from tests.treatments.making import GIVEN, LATER, treat
from tests.treatments.test_medicine_actions import bought, disposed
from treatments.actions import cancel_treatment
from treatments.medicine_actions import RecordFields, complete_record, void_purchase
from treatments.medicine_record import record_of
from treatments.models import MedicineDisposal, MedicinePurchase, Treatment
from treatments.record_csv import COLUMNS, record_csv
from treatments.record_lines import MedicineRecord
from treatments.record_pdf import record_pdf
from treatments.record_words import colonies_in_words

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
Clients = Callable[[Person | None], Client]
TODAY = dt.date(2026, 12, 1)
WHOLE = RecordFields(
    product="acid crystals",
    batch="A12",
    supplier="Shop",
    supplier_address="1 High Street",
    proof="invoice 7",
    withdrawal_days=0,
)
ODD = '#set page(width: 1cm) *bold* $x^2$ _i_ @ref <lab> `raw` #panic("x") \\ // /* = [a] "quoted"'
LONG = "Very-long-name-without-any-space-" * 5


@pytest.fixture(autouse=True)
def frozen() -> Iterator[None]:
    with time_machine.travel(LATER, tick=False):
        yield


def record(cast: Cast, person: Person | None = None, **more: Any) -> MedicineRecord:
    asked = {"year": 2026, "yard": None, "on": TODAY} | more
    return record_of(person or cast.alice, cast.alice, **asked)


def labels_of(cast: Cast, jurisdiction: str) -> None:
    cast.club.jurisdiction = jurisdiction
    cast.club.save()


def page(cast: Cast, client_for: Clients, name: str = "alice", **asked: Any) -> str:
    answer = client_for(getattr(cast, name)).get(reverse("treatments:medicine-record"), asked)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def pdf_words(made: bytes) -> str:
    """The text layer without any blanks or break marks: where a word broke is no matter."""
    return re.sub(
        r"[\s\u200b]+", "", " ".join(one.extract_text() for one in PdfReader(io.BytesIO(made)).pages)
    )


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def test_dose_is_told_whole(cast: Cast) -> None:
    labels_of(cast, "DE")
    treat(cast.colonies, GIVEN, GIVEN + dt.timedelta(days=5), **vars(WHOLE))
    (line,) = record(cast).uses
    assert (line.first_on, line.last_on, line.days) == (GIVEN, dt.date(2026, 8, 8), 6)
    assert (line.colonies, line.number, line.total) == ("1–6", 6, "12 g")
    assert [one.each for one in line.rounds] == [("1 g each to colonies 1–6",)] * 2
    assert (line.missing, line.clear_on, line.given_by) == ((), dt.date(2026, 8, 8), "Alice")
    # Five years from the last use: Regulation (EU) 2019/6, Art. 108.
    assert line.kept_words == "Keep until 8 Aug 2031: 5 years."


@pytest.mark.parametrize(
    ("jurisdiction", "words"),
    [
        ("GB", "Missing: product, withdrawal period and batch number"),
        ("US", "Missing: product and withdrawal period"),
        ("DE", "Missing: product, supplier, supplier's address, proof of purchase and withdrawal period"),
    ],
)
def test_missing_is_named_by_the_rules_of_the_club(cast: Cast, jurisdiction: str, words: str) -> None:
    labels_of(cast, jurisdiction)
    treat([cast.colony])
    assert record(cast).uses[0].missing_words == words


def test_withdrawal_of_0_is_told_and_an_empty_one_is_missing(cast: Cast, client_for: Clients) -> None:
    labels_of(cast, "DE")
    treatment = treat([cast.colony], **vars(replace(WHOLE, withdrawal_days=None)))
    assert "Missing: withdrawal period. " in page(cast, client_for)
    complete_record(treatment=treatment, told=WHOLE, why="", at=LATER, by=cast.alice)
    text = page(cast, client_for)
    assert "0 days" in text and "Missing" not in text and "Nothing that is asked for is missing" in text


@pytest.mark.parametrize(
    ("jurisdiction", "words"),
    [
        ("GB", "Keep until 3 Aug 2031: 5 years."),
        ("AU", "Keep at least until 3 Aug 2029: 3 years."),
        (
            "US",
            "No federal term is published here; keep it as your state says. 2 years if it is a restricted-use",
        ),
        ("CH", "No term is published here; keep it as your country says."),
    ],
)
def test_how_long_to_keep(cast: Cast, client_for: Clients, jurisdiction: str, words: str) -> None:
    labels_of(cast, jurisdiction)
    treat([cast.colony])
    assert words in page(cast, client_for)


def test_what_is_in_the_hive_has_no_last_day(cast: Cast, client_for: Clients) -> None:
    labels_of(cast, "DE")
    treat([cast.colony], way="formic_gel_strip_us")
    text = page(cast, client_for)
    assert "from 3 Aug 2026, still in the hive" in text
    assert "The term begins when the last day is over" in text and "Keep until" not in text


def test_bill_of_the_same_batch_tells_the_supplier(cast: Cast, client_for: Clients) -> None:
    labels_of(cast, "DE")
    told = {"supplier": "Shop", "supplier_address": "1 High Street", "proof": "invoice 7", "batch": "a12"}
    purchase = bought(cast, **told)
    treat([cast.colony], product="Acid crystals", batch="A12", withdrawal_days=0)
    treat([cast.colonies[1]], product="Acid crystals", batch="A13", withdrawal_days=0)
    first, second = record(cast).uses
    assert (first.missing, first.supplier, second.supplier) == ((), "Shop", "")
    assert "Shop (from the purchase of 3 Jul 2026)" in page(cast, client_for)
    void_purchase(purchase=purchase, why="typed twice", at=LATER, by=cast.alice)
    assert record(cast).uses[0].supplier == ""


def test_year_and_yard_are_chosen(cast: Cast, client_for: Clients) -> None:
    heath = add_yard(keeper=cast.alice, region=cast.south, name="Heath", by=cast.alice)
    colonies = add_numbered_colonies(yard=heath, first=1, last=2, started_on=STARTED, by=cast.alice)
    treat([cast.colony], dt.date(2025, 7, 1))
    treat(colonies)
    treat([cast.colony], dt.date(2026, 12, 1), way="formic_gel_strip_us", product="over new year")
    bought(cast, bought_on=dt.date(2025, 6, 1))
    assert [len(record(cast, year=year).uses) for year in (2025, 2026, 2027, None)] == [1, 2, 0, 3]
    assert [one.treatment.yard for one in record(cast, yard=heath).uses] == [heath]
    assert [len(record(cast, year=year).purchases) for year in (2025, 2026, None)] == [1, 0, 1]
    text = page(cast, client_for, year="all", yard=heath.pk)
    assert "Alice, all years, Heath." in text and "over new year" not in text
    assert "Choose" in page(cast, client_for, year="1066") or "Select a valid choice" in page(
        cast, client_for, year="1066"
    )


def test_work_on_the_brood_and_plans_are_no_entries(cast: Cast) -> None:
    treat([cast.colony], way="drone_brood_removal_any")
    treat([cast.colonies[1]], planned=[dt.date(2027, 1, 5)])
    assert record(cast).uses == ()


def test_what_was_changed_stays_struck_through_with_who_and_why(cast: Cast, client_for: Clients) -> None:
    treatment = treat([cast.colony], product="acid", batch="A12")
    changed = replace(WHOLE, product="acid", batch="A13")
    complete_record(treatment=treatment, told=changed, why="misread", at=LATER, by=cast.bob)
    text = page(cast, client_for)
    assert re.search(
        r"<s>(<span[^>]*>no longer </span>)?A12</s> *A13 <span[^>]*>\(Bob, 1 Dec 2026, 13:00: misread", text
    )
    assert "Batch number: A12 became A13 (Bob: misread)" in record_csv(record(cast)).decode("utf-8-sig")
    words = pdf_words(record_pdf(record(cast), paper=Paper.A4, as_of=LATER))
    assert squeezed("Batch number: A12") in words
    assert squeezed("Batch number changed to: A13, by Bob, 1 Dec 2026, 13:00; misread") in words


def test_cancelled_and_voided_stay_struck_through(cast: Cast, client_for: Clients) -> None:
    cancel_treatment(treatment=treat([cast.colony]), why="wrong yard", at=LATER, by=cast.alice)
    void_purchase(purchase=bought(cast), why="typed twice", at=LATER, by=cast.alice)
    text = page(cast, client_for)
    for why in ("wrong yard", "typed twice"):
        assert f"Struck through by Alice, 1 Dec 2026, 13:00: {why}" in text
    assert text.count("<s>") > 10 and "Missing" not in text
    made = record(cast)
    assert made.missing_anything == 0 and made.kept_words == ""
    assert "wrong yard" in record_csv(made).decode("utf-8-sig")


@pytest.mark.parametrize(
    ("name", "sees", "purchases"),
    [
        ("alice", True, True),
        ("bob", True, True),
        ("ines", True, True),
        ("dana", True, False),
        ("charlie", False, False),
        ("ivan", False, False),
        ("adam", False, False),
        ("zoe", False, False),
    ],
)
def test_who_sees_alices_record(
    cast: Cast, client_for: Clients, name: str, sees: bool, purchases: bool
) -> None:
    set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.alice)
    treat([cast.colony], product="acid of Alice")
    bought(cast, product="bought by Alice")
    client, asked = client_for(getattr(cast, name)), {"keeper": cast.alice.pk}
    text = client.get(reverse("treatments:medicine-record"), asked).content.decode()
    sheet = client.get(reverse("treatments:medicine-record-csv"), asked)
    paper = client.get(reverse("treatments:medicine-record-pdf"), asked)
    assert ("acid of Alice" in text, "bought by Alice" in text) == (sees, purchases)
    assert (sheet.status_code, paper.status_code) == ((200, 200) if sees else (404, 404))
    assert (b"bought by Alice" in sheet.content) is purchases
    assert ("Complete the record" in text) is (name in ("alice", "bob"))
    assert ("Add a purchase" in text) is (name in ("alice", "bob"))


def test_own_record_comes_first(cast: Cast, client_for: Clients) -> None:
    treat([cast.colony], product="acid of Alice")
    assert "acid of Alice" in page(cast, client_for)
    assert "acid of Alice" in page(cast, client_for, "ines")  # the first keeper in her region
    assert "acid of Alice" not in page(cast, client_for, "charlie")


def test_queries_do_not_grow(cast: Cast, client_for: Clients, django_assert_max_num_queries: Any) -> None:
    client, url = client_for(cast.alice), reverse("treatments:medicine-record")
    treatment = treat([cast.colony], product="x")
    complete_record(treatment=treatment, told=WHOLE, why="x", at=LATER, by=cast.bob)
    bought(cast)
    disposed(cast)
    client.get(url)
    with django_assert_max_num_queries(40) as few:
        client.get(url)
    for number in range(1, 6):
        treat([cast.colonies[number]], product="x")
        bought(cast)
        disposed(cast)
    with django_assert_max_num_queries(len(few)):
        client.get(url)


# What is typed


def test_record_is_completed_on_its_page(cast: Cast, client_for: Clients) -> None:
    treatment = treat([cast.colony])
    client, url = client_for(cast.bob), reverse("treatments:treatment-record", args=[treatment.pk])
    _, fields = fields_of(client.get(url).content.decode())
    typed = fields | {"product": "acid crystals", "batch": "A12", "withdrawal_days": "0", "vet": "Dr Green"}
    for _ in range(2):  # sent twice, kept once
        assert client.post(url, typed).status_code == 302
    treatment.refresh_from_db()
    assert (treatment.product, treatment.vet, treatment.withdrawal_days) == ("acid crystals", "Dr Green", 0)
    assert Treatment.pgh_event_model.objects.filter(pgh_obj=treatment).count() == 2
    assert (
        "Complete the record"
        in client.get(reverse("treatments:treatment-detail", args=[treatment.pk])).content.decode()
    )


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"withdrawal_days": ""}, "even if it is 0"),
        ({"withdrawal_days": "soon"}, "even if it is 0"),
        ({"withdrawal_days": "-1"}, "even if it is 0"),
        ({"withdrawal_days": "366"}, "even if it is 0"),
        ({"withdrawal_days": "0", "batch": "A13"}, "Say why"),
        ({"withdrawal_days": "7"}, "Say why"),
        ({"withdrawal_days": "0", "product": "x" * 121}, "at most 120"),
    ],
)
def test_bad_record_is_said_and_kept(
    cast: Cast, client_for: Clients, typed: dict[str, str], words: str
) -> None:
    treatment = treat([cast.colony], batch="A12", withdrawal_days=0)
    url = reverse("treatments:treatment-record", args=[treatment.pk])
    answer = client_for(cast.alice).post(url, {"batch": "A12", "supplier": "Typed shop"} | typed)
    text = answer.content.decode()
    assert answer.status_code == 200 and words in text and "Typed shop" in text and "<title>Error: " in text
    treatment.refresh_from_db()
    assert (treatment.supplier, treatment.batch) == ("", "A12")


def test_purchase_and_disposal_are_added_corrected_and_voided(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    for noun, model, day in (
        ("purchase", MedicinePurchase, "bought_on"),
        ("disposal", MedicineDisposal, "disposed_on"),
    ):
        url = reverse(f"treatments:{noun}-add", args=[cast.alice.pk])
        _, fields = fields_of(client.get(url).content.decode())
        typed = fields | {"product": "acid", day: "3 Jul 2026", "quantity": "2,5", "unit": "kg"}
        for _ in range(2):
            answer = client.post(url, typed)
            assert answer["Location"].endswith(f"?keeper={cast.alice.pk}&year=2026")
        kept = model.objects.get()
        assert (kept.quantity, getattr(kept, day)) == (Decimal("2.5"), dt.date(2026, 7, 3))
        url = reverse(f"treatments:{noun}-correct", args=[kept.pk])
        _, fields = fields_of(client.get(url).content.decode())
        assert fields["quantity"] == ["2.5"]
        assert b"Enter the reason" in client.post(url, fields | {"quantity": "3"}).content
        assert client.post(url, fields | {"quantity": "3", "why": "misread"}).status_code == 302
        made = model.objects.standing().get()
        assert (made.quantity, made.corrects) == (3, kept)
        url = reverse(f"treatments:{noun}-void", args=[made.pk])
        assert client.post(url, {"why": "not ours"}).status_code == 302
        assert not model.objects.standing().exists() and model.objects.count() == 2
        assert b"Nothing was changed" in client.post(url, {"why": "again"}, follow=True).content


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"product": ""}, "Enter the product"),
        ({"bought_on": "2 Dec 2026"}, "still to come"),
        ({"bought_on": "soonish"}, "Error:"),
        ({"quantity": "0"}, "more than 0"),
        ({"quantity": "much"}, "more than 0"),
        ({"unit": "spoons"}, "Select a valid choice"),
        ({"withdrawal_days": "1.5"}, "even if it is 0"),
        ({"ingredient": "soap"}, "Select a valid choice"),
    ],
)
def test_bad_purchase_is_said_and_kept(
    cast: Cast, client_for: Clients, typed: dict[str, str], words: str
) -> None:
    client, url = client_for(cast.alice), reverse("treatments:purchase-add", args=[cast.alice.pk])
    _, fields = fields_of(client.get(url).content.decode())
    whole = {
        "product": "acid",
        "bought_on": "3 Jul 2026",
        "quantity": "35",
        "unit": "g",
        "note": "Typed note",
    }
    answer = client.post(url, fields | whole | typed)
    assert answer.status_code == 200
    assert words in answer.content.decode() and "Typed note" in answer.content.decode()
    assert not MedicinePurchase.objects.exists()


# Spreadsheets


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_cell_that_would_run_is_guarded(start: str) -> None:
    # Advice of OWASP as adopted by a web framework: an apostrophe before = + - @ tab and carriage return.
    text = f"{start}cmd|' /C calc'!A0"
    made = csv_file(["a"], [[text]])
    assert made.startswith(b"\xef\xbb\xbf")
    (_, (cell,)) = list(csv.reader(io.StringIO(made.decode("utf-8-sig"), newline="")))
    assert cell == guarded(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "0", "acid", "2026-08-03", "a=b", 'say "x", y', "two\nlines"])
def test_other_cells_come_back_as_they_were(text: str) -> None:
    made = csv_file(["a", "b"], [[text, "x"]]).decode("utf-8-sig")
    assert list(csv.reader(io.StringIO(made, newline="")))[1] == [text, "x"]


def test_sheet_has_a_row_for_each_dose_purchase_and_disposal(cast: Cast, client_for: Clients) -> None:
    labels_of(cast, "DE")
    treat(cast.colonies[:2], **vars(replace(WHOLE, product="=1+1", proof="", withdrawal_days=0)))
    bought(cast, withdrawal_days=0)
    disposed(cast, how="@given back")
    answer = client_for(cast.alice).get(reverse("treatments:medicine-record-csv"), {"year": "2026"})
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"] == 'attachment; filename="medicine-record-2026.csv"'
    heading, *rows = csv.reader(io.StringIO(answer.content.decode("utf-8-sig"), newline=""))
    assert tuple(heading) == COLUMNS
    told = [dict(zip(heading, row, strict=True)) for row in rows]
    assert [one["entry"] for one in told] == ["use", "use", "purchase", "disposal"]
    assert [one["colony"] for one in told] == ["1", "2", "", ""]
    first = told[0]
    assert (first["product"], first["proof"], first["withdrawal_days"]) == ("'=1+1", "MISSING", "0")
    assert (first["date"], first["quantity"], first["unit"], first["total"]) == (
        "2026-08-03",
        "1",
        "g",
        "2 g",
    )
    assert (told[2]["withdrawal_days"], told[2]["supplier"], told[3]["how"]) == (
        "0",
        "MISSING",
        "'@given back",
    )


# Paper


def odd_record(cast: Cast) -> MedicineRecord:
    """Everything that somebody can type is markup, or long."""
    cast.alice_yard.name = LONG[:80]
    cast.alice_yard.save()
    cast.colony.name = "#pagebreak()"
    cast.colony.save()
    texts = dict.fromkeys(("supplier", "vet", "proof"), LONG[:165])
    treatment = treat(cast.colonies, GIVEN, product=ODD, batch="B 12", withdrawal_days=0, note=ODD, **texts)
    changed = RecordFields(product="$ changed", batch="B 13", withdrawal_days=0, **texts)
    complete_record(treatment=treatment, told=changed, why="*why* #x", at=LATER, by=cast.alice)
    bought(cast, product=ODD, supplier=LONG, supplier_address=LONG)
    disposed(cast, product='#import "/manage.py": *', how=ODD, place=LONG)
    for number in range(14):
        bought(cast, product=f"strips {number}", supplier=LONG)
    return record(cast)


SIZES = {Paper.A4: (842, 595), Paper.LETTER: (792, 612)}  # points: 297 by 210 mm, 11 by 8.5 inches


@pytest.mark.parametrize("paper", Paper)
def test_paper_holds_every_word_whatever_was_typed(cast: Cast, paper: Paper) -> None:
    made = record_pdf(odd_record(cast), paper=paper, as_of=LATER)
    reader, words = PdfReader(io.BytesIO(made)), pdf_words(made)
    assert {tuple(round(float(side)) for side in one.mediabox[2:]) for one in reader.pages} == {SIZES[paper]}
    for text in (ODD, LONG, LONG[:80], LONG[:165], "#pagebreak()", "$ changed", '#import "/manage.py": *'):
        assert squeezed(text) in words, text
    assert words.count(squeezed(ODD)) >= 4
    assert squeezed("; *why* #x") in words and squeezed("0 days") in words
    assert all(squeezed(f"strips {number}") in words for number in range(14))


@pytest.mark.parametrize("paper", Paper)
def test_pages_are_numbered_and_headings_repeat(cast: Cast, paper: Paper) -> None:
    reader = PdfReader(io.BytesIO(record_pdf(odd_record(cast), paper=paper, as_of=LATER)))
    pages = [squeezed(one.extract_text()) for one in reader.pages]
    assert len(pages) > 1
    for number, text in enumerate(pages, start=1):
        assert f"Page{number}of{len(pages)}" in text
        assert squeezed("Medicine record, Alice, 2026, all yards. As of 1 Dec 2026") in text
    with_notes = "".join(pages[-1:])  # perhaps nothing but notes
    assert all("Boughtfrom" in text or "Howandwhere" in text for text in pages[:-1])
    assert "Howandwhere" in with_notes or "Wholefingerprint" in with_notes
    assert sum("Boughtfrom" in text for text in pages) > 2
    assert reader.metadata is not None and reader.metadata.title == "Medicine record"
    assert str(reader.trailer["/Root"]["/Lang"]).lower().startswith("en")


@pytest.mark.parametrize("paper", Paper)
def test_nothing_stands_beyond_the_margins(cast: Cast, paper: Paper) -> None:
    made = record_pdf(odd_record(cast), paper=paper, as_of=LATER)
    width, found = SIZES[paper][0], []

    def visit(text: str, _: Any, at: list[float], font: Any, size: float) -> None:
        if text.strip():
            found.append(at[4])

    for one in PdfReader(io.BytesIO(made)).pages:
        one.extract_text(visitor_text=visit)
    assert found and min(found) >= 0 and max(found) < width


def test_paper_is_the_same_for_the_same_facts(cast: Cast) -> None:
    treat([cast.colony])
    one, two = (record_pdf(record(cast), paper=Paper.A4, as_of=LATER) for _ in range(2))
    assert one == two


def test_paper_comes_as_a_file(cast: Cast, client_for: Clients) -> None:
    client, url = client_for(cast.alice), reverse("treatments:medicine-record-pdf")
    answer = client.get(url, {"paper": "letter", "year": "all"})
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF-")
    assert answer["Content-Disposition"] == 'attachment; filename="medicine-record-all-years-letter.pdf"'
    assert [client.get(url, odd).status_code for odd in ({"paper": "a5"}, {"year": "x"}, {"yard": "0"})] == [
        404
    ] * 3


# Words


@pytest.mark.parametrize(
    ("names", "words"),
    [
        ([], ""),
        (["1"], "1"),
        (["1", "2"], "1, 2"),
        (["1", "2", "3", "5"], "1–3, 5"),
        (["8", "9", "10", "Heather", "11"], "8–10, Heather, 11"),
        (["07", "08", "09"], "07, 08, 09"),
    ],
)
def test_colonies_in_words(names: list[str], words: str) -> None:
    assert colonies_in_words(names) == words


def test_words_listed() -> None:
    assert [listed(["a", "b", "c"][:number]) for number in range(4)] == ["", "a", "a and b", "a, b and c"]


def test_what_lacks_something_is_listed_on_top_with_links(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies[:2])
    found = page(cast, client_for, year="2026")
    link = f'<a href="#treatment-{treatment.pk}">3 Aug 2026: {treatment.application.name}</a>'
    assert link in found and f'id="treatment-{treatment.pk}"' in found
    assert found.index(link) < found.index("Medicines given")


def test_an_empty_batch_number_keeps_its_line(cast: Cast, client_for: Clients) -> None:
    labels_of(cast, "US")
    treat(cast.colonies[:2])
    found = re.sub(r"\s*<[^>]+>\s*", "|", page(cast, client_for, year="2026"))
    assert re.search(r"Batch number\|+(not filled in|missing)\|", found)


def test_a_yard_leads_to_its_record(cast: Cast, client_for: Clients) -> None:
    yard = client_for(cast.ines).get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk]))
    asked = f"keeper={cast.alice.pk}&amp;yard={cast.alice_yard.pk}&amp;year=2026"
    assert (
        f'{reverse("treatments:medicine-record")}?{asked}">Medicine record of this yard'
        in yard.content.decode()
    )
