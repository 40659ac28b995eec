"""Every address of the site. Pages are closed unless a view is opened by name (login_not_required)."""

from django.urls import include, path

from config import probes
from config.offline import service_worker
from config.script_words import script_words

handler500 = "config.api.server_error"

urlpatterns = [
    *probes.urlpatterns,
    path("worker.js", service_worker, name="service-worker"),
    path("words/<slug:language>.<slug:version>.js", script_words, name="script-words"),
    path("account/", include("allauth.urls")),
    path("api/", include("config.api")),
    path("", include("apiaries.urls")),
    path("", include("counts.urls")),
    path("", include("treatments.urls")),
    path("", include("reports.urls")),
]
