"""Pages that are kept as they were drawn, for this reader, until a row that they are drawn from changes.

Kept twice: for all processes in the shared cache, and packed in each process that gave one out. What a page is kept
under says everything that it depends on, so nothing has to be taken out, here or there.
"""

import hashlib
import zlib
from collections.abc import Callable
from functools import cache as once
from pathlib import Path

from django.contrib.messages import get_messages
from django.core.cache import cache, caches
from django.core.cache.backends.base import BaseCache
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.middleware.gzip import re_accepts_gzip
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.crypto import salted_hmac
from django.utils.translation import get_language

from apiaries.drawn_from import StandingOfYard, standing_of_yard
from apiaries.models import Membership, Person
from apiaries.packed_pages import PackedPage
from apiaries.zones import zone_of

Draw = Callable[[Person, StandingOfYard], str]
"""Draws for the reader as they are now; the standing tells what need not be asked for (`StandingOfYard.empty`)."""
QUICKLY = 1
"""Level of packing in the shared cache."""
KEPT_FOR = 10 * 60
"""Seconds: how unlike a club's colonies are moves slowly by itself."""
ROOMS = ("apiaries", "counts", "treatments", "reports", "config")


def kept_page(request: HttpRequest, name: str, draw: Callable[[], str]) -> HttpResponse:
    """A whole page, with head and foot. `name`: says all that stands between them; of the rest it is seen to here.

    `draw` draws it for `request`, with the place of the token as `csrf_token` (`token_place`). Forms on it carry the
    token of this answer.
    """
    person = request.user
    shell = person.shell_version if isinstance(person, Person) else None
    if shell is None or len(get_messages(request)):
        return HttpResponse(draw().replace(token_place(), get_token(request)))
    whole = f"page:{name}:{_digest((person.pk, shell, program()))}"
    page: PackedPage | None = here().get(whole)
    if page is None:
        page = PackedPage.of(kept(whole, draw), token_place=token_place())
        here().set(whole, page, KEPT_FOR)
    return _answer(request, page)


def here() -> BaseCache:
    """What this process keeps for itself."""
    return caches["process"]


def _answer(request: HttpRequest, page: PackedPage) -> HttpResponse:
    token = get_token(request) if page.has_token else ""
    if re_accepts_gzip.search(request.META.get("HTTP_ACCEPT_ENCODING", "")):
        response = HttpResponse(page.as_gzip(token), headers={"Content-Encoding": "gzip"})
    else:
        response = HttpResponse(page.as_text(token))
    patch_vary_headers(response, ["Accept-Encoding"])
    return response


def kept_yard_page(request: HttpRequest, yard: int, draw: Draw) -> HttpResponse:
    """A yard's whole page. Errors: Http404 for who may not see the yard.

    Whether they may is asked when the page is drawn. What that rests on is part of the page's name, so nobody gets a
    page that they might no longer have drawn.
    """
    person = request.user
    if not isinstance(person, Person):
        raise TypeError("A page for strangers asked who is signed in.")

    name, drawn = _named(person, yard, "page", draw)
    return kept_page(request, name, drawn)


def kept_of_yard(person: Person, yard: int, part: str, draw: Draw) -> str:
    """A part of the yard's page, the same way."""
    name, drawn = _named(person, yard, part, draw)
    return kept(f"yard:{name}:{program()}", drawn)


def kept(name: str, draw: Callable[[], str]) -> str:
    """What is kept under that name for all processes, or else is drawn now and kept."""
    main = cache.get(name)
    if main is not None:
        return zlib.decompress(main).decode()
    drawn = draw()
    # A fifth of its size: PostgreSQL writes a large row in pieces, here and in its log.
    cache.set(name, zlib.compress(drawn.encode(), QUICKLY), KEPT_FOR)
    return drawn


def _named(person: Person, yard: int, part: str, draw: Draw) -> tuple[str, Callable[[], str]]:
    """What it is kept under, and how it is drawn: later, so that it may be newer than its name, which is harmless."""
    standing = standing_of_yard(yard, person)
    if standing is None:
        raise Http404
    at = timezone.now()
    zones = (standing.yard_zone, standing.club_zone, person.time_zone)
    days = [f"{at.astimezone(zone_of(zone)):%Y-%m-%d}" for zone in zones]
    name = _digest((part, yard, person.pk, get_language(), days, standing.word))
    return name, lambda: draw(_as_they_are_now(person.pk), standing)


def _as_they_are_now(pk: int) -> Person:
    """With their membership. One statement for a member."""
    membership = Membership.objects.current().filter(person=pk).select_related("person", "club").first()
    if membership is None:
        return Person.objects.get(pk=pk)
    membership.person.membership = membership
    return membership.person


def _digest(told: object) -> str:
    return hashlib.sha256(repr(told).encode()).hexdigest()


@once
def token_place() -> str:
    """Stands for the token in what is kept. Nobody can know it, so nothing that people type is taken for it."""
    return salted_hmac("recount kept pages", "csrf").hexdigest()


@once
def program() -> str:
    """Another for each program: all files it is made of. Two releases beside each other keep pages of their own."""
    told = hashlib.sha256()
    for room in ROOMS:
        for path in sorted((Path(__file__).parents[1] / room).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                told.update(f"{path.name} {path.stat().st_size} ".encode() + path.read_bytes())
    return told.hexdigest()[:16]
