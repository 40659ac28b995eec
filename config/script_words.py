"""The words of config/static/*.js in another language: a script that every browser may keep, as its address tells it.

English needs none: it stands in the scripts. See config/static/words.js for what asks this table.
"""

import hashlib
import json
from functools import cache

from babel.messages.catalog import Message
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_safe

from apiaries.language import month_short, say_as
from config.catalogues import catalogue_path, read_catalogue

DAY, MONTH = ("a day", "{day} {month} {year}"), ("a month", "{month} {year}")
"""As apiaries.language asks them; marked there."""
FOREVER = "private, max-age=31536000, immutable"


@login_not_required
@require_safe
def script_words(request: HttpRequest, language: str, version: str) -> HttpResponse:
    """The table of a language. A page of an earlier version gets today's, which no browser keeps at that address."""
    if language not in other_languages():
        raise Http404
    answer = HttpResponse(_script(language), content_type="text/javascript; charset=utf-8")
    if version == _version(language):
        answer["Cache-Control"] = FOREVER
    return answer


def words_address(language: str) -> str:
    """Where the words of this language are, another address as soon as one of them is another; empty for English."""
    if language not in other_languages():
        return ""
    return reverse("script-words", kwargs={"language": language, "version": _version(language)})


def other_languages() -> tuple[str, ...]:
    """Those that people may choose beside the one that stands in the scripts."""
    return tuple(code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE)


@cache
def _version(language: str) -> str:
    return hashlib.sha256(_script(language).encode()).hexdigest()[:16]


@cache
def _script(language: str) -> str:
    with translation.override(language):  # days as the pages write them, and as forms read them
        table = {
            "words": _words(language),
            "months": [month_short(month) for month in range(1, 13)],
            "day": say_as(*DAY),
            "month": say_as(*MONTH),
        }
    return f"globalThis.wordTable = {json.dumps(table)};\n"


def _words(language: str) -> dict[str, object]:
    catalogue = read_catalogue(catalogue_path("config", language, "djangojs"), language)
    return {_key(message): message.string for message in catalogue if message.id and _whole(message)}


def _key(message: Message) -> str:
    """The English that is looked up; of one and many, that of one."""
    return message.id if isinstance(message.id, str) else message.id[0]


def _whole(message: Message) -> bool:
    return all(message.string) if isinstance(message.string, tuple) else bool(message.string)
