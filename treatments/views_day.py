"""The treatment day: what is possible, how long it takes, and the sheet to work from."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import recordable_yard_for
from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.models import Person
from apiaries.views.asking import person_of, today_in
from apiaries.views.files import paper_asked, pdf_answer
from counts.asking import fingerprint
from treatments.access import planned_round_for, sheet_for, treatment_for
from treatments.constants import DEFAULTS
from treatments.day_actions import finish_round, plan_day, set_sheet
from treatments.expect import TRIALS
from treatments.finish_page import worked
from treatments.forms.day import DayForm
from treatments.forms.finish import FinishForm
from treatments.forms.plan import PlanForm
from treatments.forms.steps import past_day
from treatments.models import Application, Treatment
from treatments.possible import YardToday
from treatments.possible_page import ways_on, yard_on
from treatments.sheet_page import as_planned, in_the_way, sheet_page
from treatments.sheet_pdf import day_sheet_pdf
from treatments.views import recount_words
from treatments.ways import cautions_for, limits_of


@require_safe
def day_possible(request: HttpRequest, pk: int) -> HttpResponse:
    """What is possible in a yard on a day."""
    yard = recordable_yard_for(person_of(request), pk)
    today = today_in(yard)
    form = DayForm(
        request.GET if "on" in request.GET else None, today=today, fahrenheit=yard.club.jurisdiction == "US"
    )
    if form.is_bound:
        form.is_valid()
        on = form.cleaned_data.get("on") or today
        told = yard_on(yard, on, highs_c=form.highs_c, supers_next_on=form.cleaned_data.get("supers_next_on"))
    else:
        told = yard_on(yard, today)
    ways = ways_on(yard, told)
    context = {
        "yard": yard,
        "form": form,
        "told": told,
        "rows": [row for row in ways if not row.is_past],
        "past_rows": [row for row in ways if row.is_past],
        "past_on": past_day(form, today) if form.is_bound else None,
        "brood_days": int(DEFAULTS.brood_seen_days_max.value),
    }
    return render(request, "treatments/day_possible.html", context)


def day_plan(request: HttpRequest, pk: int, way: str) -> HttpResponse:
    """The plan of a day with one way of treating: kept as a planned treatment with its sheet."""
    person = person_of(request)
    yard = recordable_yard_for(person, pk)
    application = get_object_or_404(Application, key=way.replace("\0", ""))
    today = today_in(yard)
    form = PlanForm(posted(request), yard=yard, application=application, person=person, today=today)
    asked: list[str] = []
    if form.is_valid():
        told = yard_on(yard, form.cleaned_data["on"])
        asked = in_the_way(application, told)
        if form.cleaned_data.get("sure") == fingerprint(asked) or not asked:
            saved: list[Treatment] = []
            if form.saves(lambda: saved.append(_planned(form, person))):
                messages.success(request, say("Planned. This is the sheet of the day."))
                return redirect("treatments:round-sheet", pk=saved[0].pk, number=1)
    past_on = past_day(form, today) if form.is_bound else None
    context = _plan_context(form, application, yard_on(yard, today)) | {"asked": asked, "past_on": past_on}
    context["sure"] = fingerprint(asked)
    return render(request, "treatments/day_plan.html", context)


def _planned(form: PlanForm, person: Person) -> Treatment:
    return plan_day(new=form.new_treatment(), sheet=form.new_sheet(), at=timezone.now(), by=person)


def round_plan(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The sheet of a round that is planned already, made or made anew."""
    person = person_of(request)
    round_ = planned_round_for(person, pk, number)
    treatment = round_.treatment
    form = PlanForm(
        posted(request),
        yard=treatment.yard,
        application=treatment.application,
        person=person,
        today=today_in(treatment.yard),
        round_=round_,
        initial=as_planned(round_),
    )
    if form.is_valid() and form.saves(
        lambda: set_sheet(round_=round_, sheet=form.new_sheet(), at=timezone.now(), by=person)
    ):
        messages.success(request, say("Planned. This is the sheet of the day."))
        return redirect("treatments:round-sheet", pk=pk, number=number)
    context = _plan_context(form, treatment.application, yard_on(treatment.yard, round_.planned_on))
    return render(request, "treatments/day_plan.html", context | {"round": round_})


def _plan_context(form: PlanForm, application: Application, told: YardToday) -> dict[str, object]:
    return {
        "form": form,
        "yard": form.yard,
        "application": application,
        "limits": limits_of(application),
        "cautions": cautions_for(application),
        "vapour": form.vapour,
        "trials": TRIALS if form.vapour and told.with_brood + told.brood_unknown else (),
    }


@require_safe
def round_sheet(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The sheet of a round's day, on screen and for printing."""
    person = person_of(request)
    return render(request, "treatments/round_sheet.html", sheet_page(sheet_for(person, pk, number), person))


@require_safe
def round_sheet_pdf(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The same on paper, A4 or US Letter."""
    paper = paper_asked(request)
    person = person_of(request)
    page = sheet_page(sheet_for(person, pk, number), person)
    address = request.build_absolute_uri(reverse("treatments:round-sheet", args=[pk, number]))
    return pdf_answer(day_sheet_pdf(page, address=address, paper=paper), f"sheet-{pk}-{number}-{paper}")


def round_finish(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The end of the day: the sheet becomes doses, the recount is set."""
    person = person_of(request)
    round_ = planned_round_for(person, pk, number)
    sheet = sheet_for(person, pk, number)
    done = worked(sheet)
    form = FinishForm(
        posted(request),
        sheet=sheet,
        hives=done.hives,
        ticked=done.ticked,
        treated=done.treated,
        times=(done.began, done.ended),
        today=today_in(round_.treatment.yard),
    )
    if form.is_valid() and form.saves(
        lambda: finish_round(
            round_=round_,
            given_on=form.cleaned_data["given_on"],
            doses=form.new_doses(),
            told=form.told(),
            began_at=form.moment("began", done.zone),
            ended_at=form.moment("ended", done.zone),
            at=timezone.now(),
            by=person,
        )
    ):
        recount = treatment_for(person, pk).recount
        given = say("Round {number} is noted as given.", number=number)
        messages.success(request, f"{given} {recount_words(recount)}")
        return redirect("treatments:treatment-detail", pk=pk)
    context = {"form": form, "treatment": round_.treatment, "round": round_, "yard": round_.treatment.yard}
    return render(request, "treatments/round_finish.html", context)
