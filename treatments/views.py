"""Treatments and their recounts: one address, one form, one action per verb."""

import datetime as dt

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import recordable_yard_for
from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.models import Person, Yard
from apiaries.templatetags.recount_words import weekday_day
from apiaries.views.asking import person_of, today_in
from apiaries.yard_choice import SeenYards
from counts.models import MiteSample
from treatments.access import recordable_recount_for, recordable_treatment_for, treatment_for
from treatments.actions import (
    cancel_treatment,
    give_round,
    record_treatment,
    set_out_by,
    skip_recount,
    take_out,
)
from treatments.filters import MOST_JUDGED, TreatmentFilter
from treatments.forms import GiveRoundForm, OutByForm, TakeOutForm, TreatmentForm, WhyForm
from treatments.models import Application, DaySheet, Recount, Round, Treatment
from treatments.on_page import listed
from treatments.outcome_page import outcome_page
from treatments.outcome_standing import newest_since
from treatments.presenters import detail_page, rows_filled
from treatments.ways import cautions_for, earlier_label, limits_of, ways_for

PER_PAGE = 25


@require_safe
def treatment_list(request: HttpRequest) -> HttpResponse:
    """Treatments in all yards the person may see, newest first."""
    person = person_of(request)
    today = today_in(person)
    seen = SeenYards(person)
    chosen = TreatmentFilter(request.GET, person=person, today=today, seen=seen)
    page = Paginator(listed(chosen.qs), PER_PAGE).get_page(request.GET.get("page"))
    rows = rows_filled(page, today, yards=seen.yards)
    context = {
        "form": chosen.form,
        "page": page,
        "rows": rows,
        "cut": MOST_JUDGED if chosen.cut else 0,
        "any": bool(rows) or Treatment.objects.visible_to(person).exists(),
        "may_treat": seen.any_recordable,
    }
    return render(request, "treatments/treatment_list.html", context)


def treatment_add(request: HttpRequest, pk: int) -> HttpResponse:
    """First the way of treating (a plain link), then its days, colonies and doses."""
    person = person_of(request)
    yard = recordable_yard_for(person, pk)
    on = today_in(yard)
    way = request.GET.get("way", "").replace("\0", "")  # PostgreSQL takes no NUL
    application = Application.objects.filter(key=way).first()
    first_on = _past_day(request.GET.get("on", ""), on)
    if application is None:
        groups, past = ways_for(yard.club, on)
        return render(
            request,
            "treatments/treatment_way.html",
            {"yard": yard, "groups": groups, "past": past, "first_on": first_on},
        )
    form = TreatmentForm(posted(request), yard=yard, application=application, today=on, first_on=first_on)
    saved: list[Treatment] = []
    if form.is_valid() and form.saves(
        lambda: saved.append(record_treatment(new=form.new_treatment(), at=timezone.now(), by=person))
    ):
        recount = saved[0].recount
        saved_words = say("Treatment saved.")
        messages.success(request, f"{saved_words} {recount_words(recount)}")
        return redirect("treatments:treatment-detail", pk=saved[0].pk)
    context = {
        "form": form,
        "yard": yard,
        "application": application,
        "earlier": earlier_label(application),
        "limits": limits_of(application),
        "cautions": cautions_for(application),
    }
    return render(request, "treatments/treatment_add.html", context)


def _past_day(typed: str, today: dt.date) -> dt.date | None:
    """The day that a link from a plan brings along; None where it brings none that can have been."""
    try:
        on = dt.date.fromisoformat(typed)
    except ValueError:
        return None
    return on if on.year >= 1900 and on <= today else None


@require_safe
def treatment_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One treatment: where it stands, its rounds, its recount."""
    person = person_of(request)
    treatment = treatment_for(person, pk)
    context = detail_page(person, treatment, today_in(treatment.yard))
    return render(request, "treatments/treatment_detail.html", context)


@require_safe
def outcome(request: HttpRequest, pk: int) -> HttpResponse:
    """Did it work?"""
    person = person_of(request)
    treatment = treatment_for(person, pk)
    may_act = Yard.objects.recordable_by(person).filter(pk=treatment.yard_id).exists()
    page = outcome_page(treatment, today_in(treatment.yard))
    visible = MiteSample.objects.visible_to(person).standing()
    context = page | {"may_act": may_act, "newest": newest_since(page["result"], visible)}
    return render(request, "treatments/outcome.html", context)


def round_give(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """A planned round was given."""
    person = person_of(request)
    treatment, round_ = _round_for(person, pk, number)
    if round_.given_on is not None or treatment.cancelled_at is not None:
        return _nothing_to_do(
            request, treatment, say("This round was given before, or its treatment was cancelled.")
        )
    if DaySheet.objects.filter(round=round_).exists():
        return redirect("treatments:round-finish", pk=pk, number=number)
    treated = treatment.rounds.filter(doses__voided_at=None).values_list("doses__colony", flat=True)
    known = [colony for colony in set(treated) if colony is not None]
    form = GiveRoundForm(posted(request), round_=round_, treated=known, today=today_in(treatment.yard))
    if form.is_valid() and form.saves(
        lambda: give_round(
            round_=round_,
            given_on=form.cleaned_data["given_on"],
            out_on=form.cleaned_data.get("out_on"),
            doses=form.new_doses(),
            at=timezone.now(),
            by=person,
        )
    ):
        return _saved(request, treatment, say("Round {number} is noted as given.", number=number))
    cautions = cautions_for(treatment.application)
    context = {"form": form, "treatment": treatment, "round": round_, "cautions": cautions}
    return render(request, "treatments/round_give.html", context)


def round_out(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """What was in the hives is out."""
    person = person_of(request)
    treatment, round_ = _round_for(person, pk, number)
    dates = treatment.round_dates()[number - 1]
    if not dates.is_in_hive(today_in(treatment.yard)) or treatment.cancelled_at is not None:
        return _nothing_to_do(request, treatment, say("Nothing of this round is in the hives."))
    form = TakeOutForm(posted(request), round_=round_, today=today_in(treatment.yard))
    if form.is_valid() and form.saves(
        lambda: take_out(round_=round_, out_on=form.cleaned_data["out_on"], at=timezone.now(), by=person)
    ):
        return _saved(request, treatment, say("Noted as taken out."))
    return render(
        request, "treatments/round_out.html", {"form": form, "treatment": treatment, "round": round_}
    )


def round_out_by(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """When the label says to take out what is in the hives."""
    person = person_of(request)
    treatment, round_ = _round_for(person, pk, number)
    dates = treatment.round_dates()[number - 1]
    if not dates.is_in_hive(today_in(treatment.yard)) or treatment.cancelled_at is not None:
        return _nothing_to_do(request, treatment, say("Nothing of this round is in the hives."))
    form = OutByForm(posted(request), round_=round_)
    if form.is_valid() and form.saves(
        lambda: set_out_by(round_=round_, out_by=form.cleaned_data["out_by"], at=timezone.now(), by=person)
    ):
        out_by = weekday_day(form.cleaned_data["out_by"])
        return _saved(request, treatment, say("To be taken out on {day}.", day=out_by))
    context = {"form": form, "treatment": treatment, "round": round_}
    return render(request, "treatments/round_out_by.html", context)


def treatment_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """It was not done, or was entered by mistake."""
    person = person_of(request)
    treatment = recordable_treatment_for(person, pk)
    form = WhyForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: cancel_treatment(
            treatment=treatment, why=form.cleaned_data["why"], at=timezone.now(), by=person
        )
    ):
        messages.success(request, say("Treatment cancelled. It stays to be seen, struck through."))
        return redirect("treatments:treatment-detail", pk=pk)
    return render(request, "treatments/treatment_cancel.html", {"form": form, "treatment": treatment})


def recount_skip(request: HttpRequest, pk: int) -> HttpResponse:
    """There will be no after-count, for a reason."""
    person = person_of(request)
    recount = recordable_recount_for(person, pk)
    form = WhyForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: skip_recount(recount=recount, why=form.cleaned_data["why"], at=timezone.now(), by=person)
    ):
        messages.success(request, say("Recount skipped. You will not be reminded of it."))
        return redirect("treatments:treatment-detail", pk=recount.treatment_id)
    return render(request, "treatments/recount_skip.html", {"form": form, "recount": recount})


def _round_for(person: Person, pk: int, number: int) -> tuple[Treatment, Round]:
    treatment = recordable_treatment_for(person, pk)
    if number < 1:
        raise Http404
    return treatment, get_object_or_404(
        treatment.rounds.select_related("treatment__application"), number=number
    )


def _nothing_to_do(request: HttpRequest, treatment: Treatment, words: str) -> HttpResponse:
    messages.info(request, words)
    return redirect("treatments:treatment-detail", pk=treatment.pk)


def _saved(request: HttpRequest, treatment: Treatment, words: str) -> HttpResponse:
    recount = treatment_for(person_of(request), treatment.pk).recount
    messages.success(request, f"{words} {recount_words(recount)}")
    return redirect("treatments:treatment-detail", pk=treatment.pk)


def recount_words(recount: Recount) -> str:
    """What is due after it, as a message tells it."""
    return say("Recount on {day}: {reason}", day=weekday_day(recount.ideal_on), reason=say(recount.reason))
