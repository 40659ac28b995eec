"""Counts: adding one or a yard's, reading what they say, correcting, voiding."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import recordable_colony_for, recordable_yard_for
from apiaries.forms.base import posted
from apiaries.models import Yard
from apiaries.reference import cautions
from apiaries.views.asking import person_of, today_in
from apiaries.who_sees import who_sees_yard
from counts.access import editable_sample_for, sample_for
from counts.actions import correct_sample, record_sample, record_samples, void_sample
from counts.beside import odd_about
from counts.filters import SampleFilter
from counts.forms import CorrectForm, SampleForm, VoidForm, YardCountForm, remembered
from counts.measuring import half_cup_figures
from counts.models import MiteSample
from counts.planning import plan_of
from counts.presenters import context_of, raw_words, rows_of, with_all
from counts.samples import Method
from counts.saying import sample_page
from counts.sheet_order import in_sheet_order, read_sheet_number

PER_PAGE = 25


@require_safe
def sample_list(request: HttpRequest) -> HttpResponse:
    """Counts in all yards the person may see, newest first."""
    person = person_of(request)
    today = timezone.now().date()
    chosen = SampleFilter(request.GET, person=person, today=today)
    page = Paginator(with_all(chosen.qs).newest_first(), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "filter": chosen,
        "form": chosen.form,
        "page": page,
        "rows": rows_of(page),
        "any": bool(page) or MiteSample.objects.visible_to(person).exists(),
        "may_count": Yard.objects.recordable_by(person).exists(),
    }
    return render(request, "counts/sample_list.html", context)


@require_safe
def sample_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """What this count says."""
    person = person_of(request)
    sample = sample_for(person, pk)
    may_edit = sample.voided_at is None and MiteSample.objects.editable_by(person).filter(pk=pk).exists()
    context = sample_page(sample) | context_of(sample, person)
    context |= {"may_edit": may_edit, "odd": odd_about(sample)}
    return render(request, "counts/sample_detail.html", context)


def sample_add(request: HttpRequest, pk: int) -> HttpResponse:
    """One count of one colony."""
    person = person_of(request)
    colony = recordable_colony_for(person, pk)
    form = SampleForm(
        posted(request),
        colony=colony,
        person=person,
        today=today_in(colony.yard),
        initial=remembered(colony.yard),
    )
    if form.is_valid() and form.saves(
        lambda: _kept(form, record_sample(count=form.count, at=timezone.now(), by=person))
    ):
        messages.success(request, "Count saved.")
        return redirect("counts:sample-detail", pk=form.kept.pk)
    return render(request, "counts/sample_add.html", _form_context(form, colony.yard) | {"colony": colony})


def yard_count(request: HttpRequest, pk: int) -> HttpResponse:
    """The counts of a whole yard, all or none."""
    person = person_of(request)
    yard = recordable_yard_for(person, pk)
    living = list(yard.colonies.living().in_reading_order().select_related("yard"))
    sheet = read_sheet_number(request.GET.get("sheet", ""))
    earlier = "earlier" in request.GET  # "counted already": the day is asked for, not taken to be today
    form = YardCountForm(
        posted(request),
        yard=yard,
        person=person,
        today=today_in(yard),
        initial=remembered(yard) | ({"sampled_on": None} if earlier else {}),
        colonies=in_sheet_order(yard, living, sheet) if sheet else living,
    )
    if form.is_valid() and form.saves(
        lambda: record_samples(counts=form.counts, at=timezone.now(), by=person)
    ):
        number = len(form.counts)
        messages.success(request, f"{number} {'count' if number == 1 else 'counts'} saved.")
        return redirect("apiaries:yard-detail", pk=yard.pk)
    context = _form_context(form, yard) | {"formset": form.rows, "earlier": earlier, "sheet": sheet}
    context["sheet_unread"] = "sheet" in request.GET and sheet is None
    return render(request, "counts/yard_count.html", context)


@require_safe
def sampling_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Which colonies to sample, and how sure that makes."""
    yard = recordable_yard_for(person_of(request), pk)
    plan = plan_of(yard, on=today_in(yard), asked=request.GET)
    return render(request, "counts/sampling_plan.html", plan | {"yard": yard})


def sample_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """A corrected count in its place; the old one stays, struck through."""
    person = person_of(request)
    sample = editable_sample_for(person, pk)
    if sample.voided_at is not None:
        return _voided_before(request, sample)
    form = CorrectForm(posted(request), sample=sample, person=person, today=today_in(sample.yard))
    if form.is_valid() and form.saves(
        lambda: _kept(
            form,
            correct_sample(
                sample=sample, count=form.count, why=form.cleaned_data["why"], at=timezone.now(), by=person
            ),
        )
    ):
        messages.success(request, "Count corrected. The old one stays to be seen, struck through.")
        return redirect("counts:sample-detail", pk=form.kept.pk)
    context = _form_context(form, sample.yard) | {"sample": sample, "colony": sample.colony}
    return render(request, "counts/sample_correct.html", context | {"raw": raw_words(sample)})


def sample_void(request: HttpRequest, pk: int) -> HttpResponse:
    """It does not count any more, but stays to be seen."""
    person = person_of(request)
    sample = editable_sample_for(person, pk)
    if sample.voided_at is not None:
        return _voided_before(request, sample)
    form = VoidForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: void_sample(sample=sample, why=form.cleaned_data["why"], at=timezone.now(), by=person)
    ):
        messages.success(request, "Count voided. It stays to be seen, struck through.")
        return redirect("counts:sample-detail", pk=sample.pk)
    return render(
        request, "counts/sample_void.html", {"form": form, "sample": sample, "raw": raw_words(sample)}
    )


def _kept(form: SampleForm, sample: MiteSample) -> None:
    form.kept = sample


def _form_context(form: SampleForm | YardCountForm, yard: Yard) -> dict[str, object]:
    """What both count forms show beside their fields."""
    return {
        "form": form,
        "yard": yard,
        "half_cup": half_cup_figures(),
        "flame": [row["sentence"] for row in cautions() if row["where"] == Method.ALCOHOL_WASH],
        "who_sees": who_sees_yard(yard, viewer=form.person),
    }


def _voided_before(request: HttpRequest, sample: MiteSample) -> HttpResponse:
    messages.warning(request, "This count was corrected or voided before. Nothing was changed.")
    return redirect("counts:sample-detail", pk=sample.pk)
