"""A yard's page is kept as it was drawn, for this reader, until a row that it is drawn from changes."""

import hashlib
from collections.abc import Callable

from django.core.cache import cache
from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.utils.crypto import salted_hmac
from django.utils.safestring import SafeString
from django.utils.translation import get_language

from apiaries.access import yard_for
from apiaries.drawn_from import standing_of_yard
from apiaries.models import Person, Yard
from apiaries.presenters import yard_page
from apiaries.views.asking import today_in

KEPT_FOR = 10 * 60
"""Seconds: the program itself may change, and how unlike a club's colonies are moves slowly by itself."""


def yard_main(request: HttpRequest, person: Person, yard: Yard) -> SafeString:
    """What stands between head and foot, as HTML; forms in it carry the token of this answer. As `kept_of_yard`."""
    token = _token_place()

    def draw(reader: Person, seen: Yard) -> str:
        context = yard_page(request, reader, seen, csrf_token=token)
        return render_to_string("apiaries/_yard_main.html", context, request=request)

    main = kept_of_yard(person, yard, "page", draw)
    return SafeString(main.replace(token, get_token(request)) if token in main else main)


def kept_of_yard(person: Person, yard: Yard, part: str, draw: Callable[[Person, Yard], str]) -> str:
    """A part of the yard's page, drawn for this reader from both as they are now, or kept from the last time.

    Whoever asks must have found that the person may see the yard. Errors: Http404 if they may no longer.
    """
    # Before anything is read for drawing: what is drawn may then be newer than its name, which is harmless.
    days = (today_in(yard), today_in(person), today_in(yard.club))
    told = (part, yard.pk, person.pk, get_language(), *days, standing_of_yard(yard, person))

    def drawn() -> str:
        reader = Person.objects.get(pk=person.pk)
        return draw(reader, yard_for(reader, yard.pk))

    return kept("yard:" + hashlib.sha256(repr(told).encode()).hexdigest(), drawn)


def kept(name: str, draw: Callable[[], str]) -> str:
    """What is kept under that name, or else is drawn now and kept."""
    main = cache.get(name)
    if main is None:
        main = draw()
        cache.set(name, main, KEPT_FOR)
    return str(main)


def _token_place() -> str:
    """Stands for the token in what is kept. Nobody can know it, so nothing that people type is taken for it."""
    return salted_hmac("recount kept pages", "csrf").hexdigest()
