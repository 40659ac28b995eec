"""A keeper's own heaters and batteries: the list, what is noted of each, and its timed trial."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.forms.base import posted
from apiaries.language import mark, say
from apiaries.views.asking import person_of, today_in
from treatments.access import own_device_for
from treatments.actions import AlreadyClosed
from treatments.day_actions import keep_device, put_away_device
from treatments.device_actions import AlreadyThere, add_device
from treatments.device_kinds import usual_lines
from treatments.device_page import row_of, rows_of, trial_cautions
from treatments.forms.device import DeviceForm, TrialForm
from treatments.models import Device

AWAY = mark("“{name}” was put away before. Nothing was changed.")
TIME_AGAIN = mark("Its trial is older than this change: time it again before you plan a day with it.")


@require_safe
def device_list(request: HttpRequest) -> HttpResponse:
    """The person's own devices."""
    in_use, away = rows_of(person_of(request))
    return render(request, "treatments/device_list.html", {"rows": in_use, "away": away})


def device_add(request: HttpRequest) -> HttpResponse:
    """A heater more; sent twice, it is still one."""
    person = person_of(request)
    form = DeviceForm(posted(request))
    if form.is_valid():
        try:
            device = add_device(keeper=person, facts=form.facts(), at=timezone.now(), by=person)
        except AlreadyThere:
            messages.info(request, say("This heater is in your list already. Nothing was added."))
            return redirect("treatments:device-list")
        messages.success(request, say("“{name}” saved. Time it outside a hive next.", name=device.name))
        return redirect("treatments:device-list")
    return render(request, "treatments/device_edit.html", {"form": form, "usual": usual_lines()})


def device_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """What is noted of a device, noted anew."""
    person = person_of(request)
    device = own_device_for(person, pk)
    if device.put_away_at is not None:
        return _away(request, device)
    form = DeviceForm(posted(request), device=device)
    if form.is_valid():
        facts = form.facts()
        changed = any(getattr(device, name) != value for name, value in facts.items() if name != "name")
        kept = keep_device(device=device, keeper=person, facts=facts, at=timezone.now(), by=person)
        messages.success(request, say("“{name}” saved.", name=kept.name))
        if changed and kept.is_timed:
            messages.warning(request, say(TIME_AGAIN))
        return redirect("treatments:device-list")
    context = {"form": form, "device": device, "usual": usual_lines()}
    return render(request, "treatments/device_edit.html", context)


def device_trial(request: HttpRequest, pk: int) -> HttpResponse:
    """The timed trial, step by step."""
    person = person_of(request)
    device = own_device_for(person, pk)
    if device.put_away_at is not None:
        return _away(request, device)
    form = TrialForm(posted(request), today=today_in(person))
    if form.is_valid():
        keep_device(device=device, keeper=person, facts=form.facts(), at=timezone.now(), by=person)
        messages.success(
            request, say("Times of “{name}” saved. Plans use them from now on.", name=device.name)
        )
        return redirect("treatments:device-list")
    first, further = trial_cautions(device)
    context = {"form": form, "row": row_of(device), "cautions": first, "further": further}
    return render(request, "treatments/device_trial.html", context)


def device_put_away(request: HttpRequest, pk: int) -> HttpResponse:
    """No longer used; asked first."""
    person = person_of(request)
    device = own_device_for(person, pk)
    if request.method != "POST":
        return (
            _away(request, device)
            if device.put_away_at
            else render(request, "treatments/device_put_away.html", {"device": device})
        )
    try:
        put_away_device(device=device, at=timezone.now(), by=person)
    except AlreadyClosed:
        return _away(request, device)
    messages.success(
        request, say("“{name}” put away. It stays in the list, struck through.", name=device.name)
    )
    return redirect("treatments:device-list")


def _away(request: HttpRequest, device: Device) -> HttpResponse:
    messages.warning(request, say(AWAY, name=device.name))
    return redirect("treatments:device-list")
