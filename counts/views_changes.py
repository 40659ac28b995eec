"""Correcting, voiding and restoring counts. What was typed about an older version overwrites nothing."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from apiaries.forms.base import posted
from apiaries.language import say
from apiaries.models import Person
from apiaries.views.asking import person_of, today_in
from counts.access import editable_sample_for
from counts.actions import correct_sample, void_sample
from counts.change_actions import in_its_place, restore_sample
from counts.forms import CorrectForm, VoidForm
from counts.forms.changing import RestoreForm
from counts.models import MiteSample
from counts.presenters import changed_words, raw_words
from counts.views import form_context, kept


def sample_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """A corrected count in its place; the old one stays, struck through.

    If it changed since the form opened, both are shown, and sending again corrects what stands now.
    """
    person = person_of(request)
    sample = editable_sample_for(person, pk)
    if sample.voided_at is not None and request.method != "POST":
        return _voided_before(request, sample)
    if _changed_since(request, sample):
        now = _stands_now(sample, person)
        mine = MiteSample.objects.editable_by(person).filter(pk=now.pk).exists() if now else False
        current = now if now and mine else sample
        form = CorrectForm(request.POST, sample=current, person=person, today=today_in(current.yard))
        changed = {"changed": changed_words(sample, person), "now": now, "may_save": mine}
        return _correct_page(request, form, current, **changed, now_raw=raw_words(now) if now else "")
    form = CorrectForm(posted(request), sample=sample, person=person, today=today_in(sample.yard))
    if form.is_valid() and form.saves(
        lambda: kept(
            form,
            correct_sample(
                sample=sample,
                count=form.count,
                why=form.cleaned_data["why"],
                at=timezone.now(),
                by=person,
                seen=_seen(request),
            ),
        )
    ):
        messages.success(request, say("Count corrected. The old one stays to be seen, struck through."))
        return redirect("counts:sample-detail", pk=form.kept.pk)
    return _correct_page(request, form, sample)


def sample_void(request: HttpRequest, pk: int) -> HttpResponse:
    """It does not count any more, but stays to be seen."""
    person = person_of(request)
    sample = editable_sample_for(person, pk)
    if sample.voided_at is not None:
        return _voided_before(request, sample)
    form = VoidForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: void_sample(
            sample=sample,
            why=form.cleaned_data["why"],
            at=timezone.now(),
            by=person,
            seen=_seen(request),
        )
    ):
        messages.success(request, say("Count voided. It stays to be seen, struck through."))
        return redirect("counts:sample-detail", pk=sample.pk)
    return render(request, "counts/sample_void.html", {"form": form, **_about(sample)})


def sample_restore(request: HttpRequest, pk: int) -> HttpResponse:
    """It counts again; that it was voided stays to be seen."""
    person = person_of(request)
    sample = editable_sample_for(person, pk)
    if sample.voided_at is None:
        messages.warning(request, say("This count stands. Nothing was changed."))
        return redirect("counts:sample-detail", pk=sample.pk)
    form = RestoreForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: restore_sample(
            sample=sample,
            why=form.cleaned_data["why"],
            at=timezone.now(),
            by=person,
            seen=_seen(request),
        )
    ):
        messages.success(request, say("Count restored. It counts again."))
        return redirect("counts:sample-detail", pk=sample.pk)
    return render(request, "counts/sample_restore.html", {"form": form, **_about(sample)})


def _seen(request: HttpRequest) -> int | None:
    """The version that the form was opened on; None where it does not say so."""
    text = request.POST.get("seen", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else None


def _changed_since(request: HttpRequest, sample: MiteSample) -> bool:
    if request.method != "POST":
        return False
    return sample.voided_at is not None or _seen(request) not in (None, sample.version)


def _stands_now(sample: MiteSample, person: Person) -> MiteSample | None:
    """What stands in its place, if the person may see that."""
    now = in_its_place(sample)
    return None if now is None else MiteSample.objects.visible_to(person).filter(pk=now.pk).first()


def _correct_page(request: HttpRequest, form: CorrectForm, sample: MiteSample, **more: Any) -> HttpResponse:
    context = form_context(form, sample.yard) | {"colony": sample.colony} | _about(sample) | more
    return render(request, "counts/sample_correct.html", context)


def _about(sample: MiteSample) -> dict[str, Any]:
    return {"sample": sample, "raw": raw_words(sample), "seen": sample.version}


def _voided_before(request: HttpRequest, sample: MiteSample) -> HttpResponse:
    messages.warning(request, say("This count was corrected or voided before. Nothing was changed."))
    return redirect("counts:sample-detail", pk=sample.pk)
