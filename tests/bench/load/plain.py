"""What the framework itself takes to save a count, for gunicorn: `gunicorn tests.bench.load.plain`.

Django's own session, sign-in, forged-form check and model form, and one row by the ORM, on the site's tables: what
anybody would write who has nothing to ask, to add up or to remember. It keeps the site's triggers and row history, as
these are the table's. Told beside the site's figures, judged by nothing.
"""

import os
from typing import Any

import django
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
settings.SESSION_ENGINE = "django.contrib.sessions.backends.db"
settings.ROOT_URLCONF = __name__
django.setup()
settings.MIDDLEWARE = [
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
]  # set only now: allauth wants its own while it starts

from django.core.wsgi import get_wsgi_application  # noqa: E402
from django.db import transaction  # noqa: E402
from django.forms import modelform_factory  # noqa: E402
from django.http import HttpRequest, HttpResponse  # noqa: E402
from django.shortcuts import get_object_or_404, redirect  # noqa: E402
from django.urls import path  # noqa: E402
from django.utils import timezone  # noqa: E402

from apiaries.models import Colony  # noqa: E402
from counts.models import MiteSample  # noqa: E402

PlainForm = modelform_factory(MiteSample, fields=("entry_key", "method", "mites", "brood", "sampled_on"))


def save(request: HttpRequest, pk: int) -> HttpResponse:
    """The count as it was typed; anything wrong is told by its status alone."""
    person: Any = request.user
    colony = get_object_or_404(Colony.objects.select_related("yard"), pk=pk, yard__keeper=person)
    form = PlainForm(request.POST)
    form.instance.colony, form.instance.yard = colony, colony.yard
    form.instance.bees, form.instance.bees_by = 300, "volume"
    form.instance.recorded_by, form.instance.recorded_at = person, timezone.now()
    if not form.is_valid():
        return HttpResponse(form.errors.as_json(), status=422)
    with transaction.atomic():
        sample: Any = form.save()
    return redirect(f"/counts/{sample.pk}/")


urlpatterns = [path("colonies/<int:pk>/counts/new/", save)]
application = get_wsgi_application()
