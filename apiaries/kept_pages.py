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
    """What stands between head and foot, as HTML; forms in it carry the token of this answer.

    Whoever asks must have found that the person may see the yard. Errors: Http404 if they may no longer.
    """
    # Before anything is read for drawing: what is drawn may then be newer than its name, which is harmless.
    name = _name(yard, person)
    main = kept(name, lambda: _drawn(request, Person.objects.get(pk=person.pk), yard.pk))
    token = _token_place()
    return SafeString(main.replace(token, get_token(request)) if token in main else main)


def kept(name: str, draw: Callable[[], str]) -> str:
    """What is kept under that name, or else is drawn now and kept."""
    main = cache.get(name)
    if main is None:
        main = draw()
        cache.set(name, main, KEPT_FOR)
    return str(main)


def _name(yard: Yard, person: Person) -> str:
    days = (today_in(yard), today_in(person), today_in(yard.club))
    told = (yard.pk, person.pk, get_language(), *days, standing_of_yard(yard, person))
    return "yard-page:" + hashlib.sha256(repr(told).encode()).hexdigest()


def _drawn(request: HttpRequest, person: Person, yard_pk: int) -> str:
    context = yard_page(request, person, yard_for(person, yard_pk), csrf_token=_token_place())
    return render_to_string("apiaries/_yard_main.html", context, request=request)


def _token_place() -> str:
    """Stands for the token in what is kept. Nobody can know it, so nothing that people type is taken for it."""
    return salted_hmac("recount kept pages", "csrf").hexdigest()
