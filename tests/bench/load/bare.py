"""The yardstick: a bare Django view that reads one row, for gunicorn: `gunicorn tests.bench.load.bare`.

Nothing but Django: no middleware, no session, no template. Its connection to the database is set as the site's.
"""

import os

import django
import environ
from django.conf import settings

settings.configure(
    DEBUG=False,
    SECRET_KEY=os.environ["SECRET_KEY"],
    ALLOWED_HOSTS=["127.0.0.1"],
    ROOT_URLCONF=__name__,
    USE_TZ=True,
    DATABASES={
        "default": environ.Env().db_url_config(os.environ["DATABASE_URL"])
        | {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
    },
)
django.setup()

from django.core.wsgi import get_wsgi_application  # noqa: E402
from django.db import models  # noqa: E402
from django.http import HttpRequest, JsonResponse  # noqa: E402
from django.urls import path  # noqa: E402


class Row(models.Model):
    """Two columns of a yard."""

    name = models.CharField(max_length=100)

    class Meta:
        app_label = "bare"
        db_table = "apiaries_yard"
        managed = False


def one_row(request: HttpRequest, pk: int) -> JsonResponse:
    row = Row.objects.get(pk=pk)
    return JsonResponse({"pk": row.pk, "name": row.name})


urlpatterns = [path("<int:pk>/", one_row)]
application = get_wsgi_application()
