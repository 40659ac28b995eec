"""The medicine record: reading it, completing a treatment's part of it, purchases and disposals."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.models import Person, Yard
from apiaries.views.asking import person_of, today_in
from apiaries.views.files import file_answer, paper_asked, pdf_answer
from apiaries.zones import zone_of
from treatments.access import (
    editable_disposal_for,
    editable_purchase_for,
    recordable_keeper_for,
    recordable_treatment_for,
)
from treatments.chain_file import chain_file
from treatments.chain_words import WHAT_FOR, head_words
from treatments.forms import DisposalForm, PurchaseForm, RecordChoice, RecordForm, WhyForm
from treatments.forms.records import KeptForm
from treatments.kept_words import kept_words
from treatments.medicine_actions import (
    complete_record,
    correct_disposal,
    correct_purchase,
    record_disposal,
    record_purchase,
    void_disposal,
    void_purchase,
)
from treatments.medicine_record import record_of
from treatments.models import MedicineDisposal, MedicinePurchase
from treatments.record_changes import changes_of
from treatments.record_csv import record_csv
from treatments.record_facts import bill_facts, empty_together, given_facts, kept_facts, voided_words
from treatments.record_lines import KeptLine, MedicineRecord, lacking
from treatments.record_pdf import record_pdf


def _chosen(request: HttpRequest) -> tuple[RecordChoice, MedicineRecord | None]:
    """What was asked for, and the record; None when the question cannot be answered."""
    person = person_of(request)
    choice = RecordChoice(request.GET, person=person, today=today_in(person))
    if not choice.is_valid():
        return choice, None
    asked = choice.cleaned_data
    year, yard = choice.year_chosen(), asked["yard"]
    return choice, record_of(person, asked["keeper"], year=year, yard=yard, on=today_in(person))


@require_safe
def medicine_record(request: HttpRequest) -> HttpResponse:
    """Doses given, purchases and disposals of one keeper."""
    choice, record = _chosen(request)
    query = _query(record) if record else ""
    context: dict[str, Any] = {"form": choice, "record": record, "query": query}
    if record is not None:
        zone = zone_of(person_of(request).time_zone)
        context |= {"chain": head_words(record.head, zone), "what_for": say(WHAT_FOR)}
        context |= _entries(person_of(request), record)
    return render(request, "treatments/medicine_record.html", context)


def _entries(person: Person, record: MedicineRecord) -> dict[str, Any]:
    """The entries with their facts in words, and what the reader may do about each."""
    yards = set(Yard.objects.recordable_by(person).filter(keeper=record.keeper).values_list("pk", flat=True))
    return {
        "uses": [
            {
                "line": line,
                "given": empty_together(given_facts(line)),
                "bill": empty_together(bill_facts(line)),
                "voided_words": voided_words(line),
                "may_complete": line.treatment.yard_id in yards,
            }
            for line in record.uses
        ],
        "lacking": lacking(record),
        "purchases": [_kept(line, "purchase") for line in record.purchases],
        "disposals": [_kept(line, "disposal") for line in record.disposals],
    }


def _kept(line: KeptLine, noun: str) -> dict[str, Any]:
    return {
        "line": line,
        "day": line.on,
        "facts": empty_together(kept_facts(line)),
        "voided_words": voided_words(line),
        "correct_url": reverse(f"treatments:{noun}-correct", args=[line.entry.pk]),
        "void_url": reverse(f"treatments:{noun}-void", args=[line.entry.pk]),
    }


@require_safe
def medicine_record_csv(request: HttpRequest) -> HttpResponse:
    """The same for spreadsheets."""
    record = _asked_record(request)
    return file_answer(record_csv(record), "text/csv; charset=utf-8", f"{_file_name(record)}.csv")


@require_safe
def medicine_record_pdf(request: HttpRequest) -> HttpResponse:
    """The same on paper, A4 or US Letter."""
    paper = paper_asked(request)
    record = _asked_record(request)
    at = timezone.now().astimezone(zone_of(person_of(request).time_zone))
    return pdf_answer(record_pdf(record, paper=paper, as_of=at), f"{_file_name(record)}-{paper}")


@require_safe
def medicine_record_chain(request: HttpRequest) -> HttpResponse:
    """The chain of the whole record, for whoever wants to check it without this program."""
    keeper = _asked_record(request).keeper
    return file_answer(
        chain_file(person_of(request), keeper), "application/json", "medicine-record-chain.json"
    )


def _asked_record(request: HttpRequest) -> MedicineRecord:
    _, record = _chosen(request)
    if record is None:
        raise Http404
    return record


def _file_name(record: MedicineRecord) -> str:
    return f"medicine-record-{record.year or 'all-years'}"


def _query(record: MedicineRecord) -> str:
    """The question as an address asks it, for the same record as a file."""
    asked = {"keeper": record.keeper.pk, "year": record.year or "all"}
    return urlencode(asked | ({"yard": record.yard.pk} if record.yard else {}))


def treatment_record(request: HttpRequest, pk: int) -> HttpResponse:
    """What the pack and the bill say of a treatment."""
    person = person_of(request)
    treatment = recordable_treatment_for(person, pk)
    form = RecordForm(posted(request), treatment=treatment)
    if form.is_valid() and form.saves(
        lambda: complete_record(
            treatment=treatment,
            told=form.told(),
            why=form.cleaned_data["why"],
            at=timezone.now(),
            by=person,
        )
    ):
        messages.success(request, say("Record saved. What stood there before stays to be seen."))
        return redirect("treatments:treatment-detail", pk=pk)
    context = {"form": form, "treatment": treatment, "changes": changes_of([treatment]).get(pk, [])}
    return render(request, "treatments/treatment_record.html", context)


def purchase_add(request: HttpRequest, pk: int) -> HttpResponse:
    """A medicine that was bought."""
    person = person_of(request)
    keeper = recordable_keeper_for(person, pk)
    form = PurchaseForm(posted(request), today=today_in(keeper))
    return _entry(
        request,
        form,
        keeper,
        "purchase",
        lambda: record_purchase(keeper=keeper, new=form.new(), at=timezone.now(), by=person),
    )


def disposal_add(request: HttpRequest, pk: int) -> HttpResponse:
    """A medicine that was disposed of."""
    person = person_of(request)
    keeper = recordable_keeper_for(person, pk)
    form = DisposalForm(posted(request), today=today_in(keeper))
    return _entry(
        request,
        form,
        keeper,
        "disposal",
        lambda: record_disposal(keeper=keeper, new=form.new(), at=timezone.now(), by=person),
    )


def purchase_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """A corrected purchase in the place of one that stays, struck through."""
    person = person_of(request)
    old = editable_purchase_for(person, pk)
    form = PurchaseForm(posted(request), today=today_in(old.keeper), old=old)

    def write() -> MedicinePurchase:
        why = form.cleaned_data["why"]
        return correct_purchase(purchase=old, new=form.new(), why=why, at=timezone.now(), by=person)

    return _entry(request, form, old.keeper, "purchase", write, old=old)


def disposal_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """A corrected disposal in the place of one that stays, struck through."""
    person = person_of(request)
    old = editable_disposal_for(person, pk)
    form = DisposalForm(posted(request), today=today_in(old.keeper), old=old)

    def write() -> MedicineDisposal:
        why = form.cleaned_data["why"]
        return correct_disposal(disposal=old, new=form.new(), why=why, at=timezone.now(), by=person)

    return _entry(request, form, old.keeper, "disposal", write, old=old)


def _entry(
    request: HttpRequest,
    form: KeptForm,
    keeper: Person,
    noun: str,
    write: Callable[[], object],
    old: MedicinePurchase | MedicineDisposal | None = None,
) -> HttpResponse:
    """The page of one entry's form; saved, it leads to the year in which the entry stands."""
    if form.is_valid() and form.saves(write):
        messages.success(request, kept_words(noun, "corrected" if old else "saved"))
        return redirect(record_url(keeper, form.cleaned_data[form.day_field].year))
    context = {
        "form": form,
        "keeper": keeper,
        "title": kept_words(noun, "correct" if old else "add"),
        "submit": say("Save correction") if old else kept_words(noun, "save"),
        "old": old,
        "back_url": record_url(keeper, None),
    }
    return render(request, "treatments/kept_form.html", context)


def purchase_void(request: HttpRequest, pk: int) -> HttpResponse:
    """A purchase that was entered by mistake."""
    person = person_of(request)
    entry = editable_purchase_for(person, pk)
    return _void(request, entry, "purchase", entry.bought_on.year, void_purchase, person)


def disposal_void(request: HttpRequest, pk: int) -> HttpResponse:
    """A disposal that was entered by mistake."""
    person = person_of(request)
    entry = editable_disposal_for(person, pk)
    return _void(request, entry, "disposal", entry.disposed_on.year, void_disposal, person)


def _void(
    request: HttpRequest,
    entry: MedicinePurchase | MedicineDisposal,
    noun: str,
    year: int,
    action: Callable[..., Any],
    person: Person,
) -> HttpResponse:
    back = record_url(entry.keeper, year)
    if entry.voided_at is not None:
        messages.warning(request, say("This entry was corrected or voided before. Nothing was changed."))
        return redirect(back)
    form = WhyForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: action(**{noun: entry}, why=form.cleaned_data["why"], at=timezone.now(), by=person)
    ):
        messages.success(request, kept_words(noun, "voided"))
        return redirect(back)
    context = {
        "form": form,
        "entry": entry,
        "title": kept_words(noun, "void"),
        "submit": kept_words(noun, "void_this"),
        "back_url": back,
    }
    return render(request, "treatments/kept_void.html", context)


def record_url(keeper: Person, year: int | None) -> str:
    """Where a keeper's record of a year stands; of this year when none is named."""
    asked = {"keeper": keeper.pk} | ({"year": year} if year else {})
    return f"{reverse('treatments:medicine-record')}?{urlencode(asked)}"
