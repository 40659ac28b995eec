"""Labels for hives, to print."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from apiaries.access import recordable_yard_for
from apiaries.forms import LabelsForm
from apiaries.label_sheets import labels_pdf, trial_page_pdf
from apiaries.language import say
from apiaries.views.asking import person_of
from apiaries.views.files import pdf_answer


@require_safe
def hive_labels(request: HttpRequest, pk: int) -> HttpResponse:
    """What to print; with `make` in the address, the labels or the test page as a PDF."""
    yard = recordable_yard_for(person_of(request), pk)
    make = request.GET.get("make")
    form = LabelsForm(request.GET if make else None, colonies=list(yard.colonies.living().in_reading_order()))
    if not make or not form.is_valid():
        return render(request, "apiaries/hive_labels.html", {"form": form, "yard": yard})
    if make == "test":
        return pdf_answer(trial_page_pdf(form.how), f"labels-test-{form.how.grid.key}")

    def address_of(code: str) -> str:
        return request.build_absolute_uri(reverse("apiaries:label", args=[code]))

    made = labels_pdf(
        form.chosen, form.how, address_of=address_of, title=say("Hive labels, {yard}", yard=yard.name)
    )
    return pdf_answer(made, f"labels-{yard.pk}-{form.how.grid.key}")
