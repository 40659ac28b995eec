"""The WSGI application, for gunicorn: `gunicorn config.wsgi`."""

from config.entry import prepare

prepare()

from django.core.wsgi import get_wsgi_application  # noqa: E402 (after the database runs)

application = get_wsgi_application()
