"""The service worker's address: at the root, so that it may keep any page of the yard, with the files these need."""

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.templatetags.static import static
from django.views.decorators.http import require_safe

from config.script_words import other_languages, words_address

KEPT = (
    "recount.css",
    "favicon.svg",
    "words.js",
    "recount.js",
    "queue.js",
    "leaving.js",
    "phone.js",
    "open_from.js",
    "yard_state.js",
    "yard.js",
    "counts.js",
    "counting_form.js",
    "counting_colonies.js",
    "counting_lists.js",
    "counting_status.js",
    "counting_changes.js",
    "counting_rows.js",
    "counting.js",
    "jar_timer.js",
    "visit_waiting.js",
    "visit_form.js",
    "visit.js",
)
"""What the pages for the yard need. A page that needs another file would be without it where there is no network."""
WORKER = "worker.js"


@login_not_required
@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """A short script that names files and version and fetches the worker itself; nothing of it is personal."""
    kept = json.dumps({"version": _version(), "files": [*(static(name) for name in KEPT), *_words()]})
    script = f"self.kept = {kept};\nimportScripts({json.dumps(static(WORKER))});\n"
    return HttpResponse(script, content_type="text/javascript; charset=utf-8")


def _words() -> list[str]:
    """The words of every other language: the addresses change with them. A phone may have pages of more than one."""
    return [words_address(language) for language in other_languages()]


@lru_cache(maxsize=1)
def _version() -> str:
    """Another one as soon as any of the files is another: browsers compare the script byte by byte."""
    digest = hashlib.sha256("\n".join(_words()).encode())
    for name in (*KEPT, WORKER):
        found = finders.find(name)
        digest.update(f"{static(name)}\n".encode() + (Path(found).read_bytes() if found else b""))
    return digest.hexdigest()[:16]
