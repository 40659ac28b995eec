"""The WSGI application, for gunicorn: `gunicorn config.wsgi`."""

import gc

from config.entry import prepare

prepare()

from django.core.wsgi import get_wsgi_application  # noqa: E402 (after the database runs)
from django.urls import get_resolver  # noqa: E402

application = get_wsgi_application()

from apiaries.kept_pages import program  # noqa: E402 (after the apps are loaded)
from config import sentences  # noqa: E402

# Read now, once for all web processes, not while the first visitor of each waits: every page's module, and the sum over
# the program that kept pages are named by.
_ = get_resolver().url_patterns, program()
sentences.remember()

# What the program itself is made of stays: looking through it again and again cost a large page a third of its time.
gc.freeze()
