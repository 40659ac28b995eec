"""The WSGI application, for gunicorn: `gunicorn config.wsgi`."""

import gc

from config.entry import prepare

prepare()

from django.core.wsgi import get_wsgi_application  # noqa: E402 (after the database runs)
from django.urls import get_resolver  # noqa: E402

application = get_wsgi_application()
_ = get_resolver().url_patterns  # every page's module is read now, not while the first visitor waits

# What the program itself is made of stays: looking through it again and again cost a large page a third of its time.
gc.freeze()
