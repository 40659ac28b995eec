"""Counts: adding one or a yard's, reading what they say."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import recordable_colony_for, recordable_yard_for
from apiaries.entries import KEEP_FOR
from apiaries.forms.base import posted
from apiaries.language import say, say_many
from apiaries.models import Yard
from apiaries.reference import cautions
from apiaries.views.asking import person_of, today_in
from apiaries.who_sees import who_sees_yard
from apiaries.yard_choice import SeenYards
from counts.access import sample_for
from counts.actions import record_sample, record_samples
from counts.beside import odd_about
from counts.called_for import reasons
from counts.filters import SampleFilter
from counts.forms import OneForm, SampleForm, YardCountForm, remembered
from counts.measuring import half_cup_figures
from counts.models import MiteSample
from counts.phone_page import phone_of
from counts.planning import plan_of
from counts.presenters import context_of, fill_in, rows_of
from counts.samples import Method
from counts.saying import sample_page
from counts.sheet_order import in_sheet_order, read_sheet_number

PER_PAGE = 25


@require_safe
def sample_list(request: HttpRequest) -> HttpResponse:
    """Counts in all yards the person may see, newest first."""
    person = person_of(request)
    today = timezone.now().date()
    seen = SeenYards(person)
    chosen = SampleFilter(request.GET, person=person, today=today, seen=seen)
    page = Paginator(chosen.qs.newest_first(), PER_PAGE).get_page(request.GET.get("page"))
    fill_in(found := list(page), yards=seen.yards)
    context = {
        "filter": chosen,
        "form": chosen.form,
        "page": page,
        "rows": rows_of(found),
        "any": bool(found) or MiteSample.objects.visible_to(person).exists(),
        "may_count": seen.any_recordable,
    }
    return render(request, "counts/sample_list.html", context)


@require_safe
def sample_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """What this count says."""
    person = person_of(request)
    sample = sample_for(person, pk)
    may_edit = MiteSample.objects.editable_by(person).filter(pk=pk).exists()
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
        initial={} if request.method == "POST" else remembered(colony.yard),
    )
    if form.is_valid() and form.saves(
        lambda: kept(form, record_sample(count=form.count, at=timezone.now(), by=person))
    ):
        messages.success(request, say("Count saved."))
        return redirect("counts:sample-detail", pk=form.kept.pk)
    context = form_context(form, colony.yard) | {"colony": colony}
    context |= {"phone": phone_of(colony.yard, person, only=colony)}
    return _kept_page(request, "counts/sample_add.html", context)


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
        initial={}
        if request.method == "POST"
        else remembered(yard) | ({"sampled_on": None} if earlier else {}),
        colonies=in_sheet_order(yard, living, sheet) if sheet else living,
    )
    if form.is_valid() and form.saves(
        lambda: record_samples(counts=form.counts, at=timezone.now(), by=person)
    ):
        messages.success(request, say_many("{n} count saved.", "{n} counts saved.", len(form.counts)))
        return redirect("apiaries:yard-detail", pk=yard.pk)
    context = form_context(form, yard) | {"formset": form.rows, "earlier": earlier, "sheet": sheet}
    context["called_for"] = reasons(yard, today_in(yard)) if earlier else []
    context["sheet_unread"] = "sheet" in request.GET and sheet is None
    context |= {"one": OneForm(prefix="one"), "phone": phone_of(yard, person, living=living)}
    return _kept_page(request, "counts/yard_count.html", context)


@require_safe
def sampling_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Which colonies to sample, and how sure that makes."""
    yard = recordable_yard_for(person_of(request), pk)
    plan = plan_of(yard, on=today_in(yard), asked=request.GET)
    return render(request, "counts/sampling_plan.html", plan | {"yard": yard})


def _kept_page(request: HttpRequest, template: str, context: dict[str, object]) -> HttpResponse:
    """A count page that this person's phone may keep, unless it answers to what was just sent."""
    answer = render(request, template, context)
    if request.method == "GET":
        answer[KEEP_FOR] = str(person_of(request).pk)
    return answer


def kept(form: SampleForm, sample: MiteSample) -> None:
    """Let the form know what was made of it."""
    form.kept = sample


def form_context(form: SampleForm | YardCountForm, yard: Yard) -> dict[str, object]:
    """What both count forms show beside their fields."""
    return {
        "form": form,
        "yard": yard,
        "half_cup": half_cup_figures(),
        "flame": [row["sentence"] for row in cautions() if row["where"] == Method.ALCOHOL_WASH],
        "who_sees": who_sees_yard(yard, viewer=form.person, named=False),
    }
