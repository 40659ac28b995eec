"""What every view of the interface is made of: who asks, what they may ask, and answers that nobody keeps."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

import pghistory
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponseBase
from django.utils import translation
from django_filters.filterset import FilterSet
from rest_framework import viewsets
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from apiaries.api.conditional import answer_if_changed, etag_of, require_match
from apiaries.api.filters import Filters
from apiaries.api.paging import Pages
from apiaries.api.problems import Problem, invalid
from apiaries.api.reading import refuse_odd_questions
from apiaries.api.scopes import Scope
from apiaries.models import AccessToken, Person, anybody

LANGUAGE = "en-gb"


class Interface(APIView):
    """Any view of the interface.

    It speaks English whoever asks: programs read its words, and what one person's program shows must not depend on
    another's browser. The order is: who asks, how often they asked, what their token is for, what they ask; so refused
    requests are counted too.
    """

    http_method_names: ClassVar = ["get", "head", "post", "put", "patch", "delete"]
    reads: ClassVar[Scope | None] = None
    """What a token needs for GET; None: any token will do."""
    writes: ClassVar[Scope | None] = None
    """What it needs for everything else; None where nothing is written."""
    asked: ClassVar[tuple[str, ...]] = ()
    """Parameters of the address beside those of filters and pages."""

    @property
    def person(self) -> Person:
        """Who asks."""
        person = self.request.user
        if not isinstance(person, Person):
            raise TypeError("An interface for strangers asked who is signed in.")
        return person

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with translation.override(LANGUAGE):
            if request.method in SAFE_METHODS:
                return self._answer(request, *args, **kwargs)
            with pghistory.context(through="api"):
                return self._answer(request, *args, **kwargs)

    def _answer(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = super().dispatch(request, *args, **kwargs)
        if isinstance(response, Response):
            response.render()  # while the language is ours
        response.headers["Content-Language"] = LANGUAGE
        return response

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        if isinstance(request.auth, AccessToken) and request.method not in SAFE_METHODS:
            pghistory.context(token=request.auth.pk)
        refuse_odd_questions(request, self.known_parameters())

    def check_permissions(self, request: Request) -> None:
        """Counted before it is refused."""
        self.check_throttles(request)
        super().check_permissions(request)
        self._counted = True

    def check_throttles(self, request: Request) -> None:
        """Once a request."""
        if not getattr(self, "_counted", False):
            super().check_throttles(request)

    def known_parameters(self) -> set[str]:
        """Names of the parameters that this address answers to."""
        return set(self.asked)


class _ViewSet(Interface, viewsets.GenericViewSet[Any]):
    """Of one kind of thing. Its `queryset_for` is the only way to them."""

    lookup_value_converter = "int"
    pagination_class = Pages
    filter_backends = (Filters,)
    filterset_class: ClassVar[type[FilterSet] | None] = None
    refusals: ClassVar[Mapping[type[Exception], tuple[int, str, str | None]]] = {}
    """What actions may refuse: the status, the words, and the field it is about."""

    def queryset_for(self, person: Person) -> "QuerySet[Any]":
        """What the person may see, from `visible_to`."""
        raise NotImplementedError

    def get_queryset(self) -> "QuerySet[Any]":
        if getattr(self, "swagger_fake_view", False):  # the description is made without anybody asking
            return self.queryset_for(anybody(None)).none()
        return self.queryset_for(self.person)

    def known_parameters(self) -> set[str]:
        if self.detail or self.request.method not in SAFE_METHODS:
            return super().known_parameters()
        filters = self.filterset_class.base_filters if self.filterset_class else {}
        return super().known_parameters() | {"limit", "cursor"} | set(filters)

    def filter_queryset(self, queryset: "QuerySet[Any]") -> "QuerySet[Any]":
        """What was asked of a list leaves out nothing that is asked for by its key."""
        return queryset if self.detail else super().filter_queryset(queryset)

    def handle_exception(self, exc: Exception) -> Response:
        for kind, (status, words, name) in self.refusals.items():
            if isinstance(exc, kind):
                exc = refused(status, words, name)
                break
        return super().handle_exception(exc)


class ReadViewSet(_ViewSet):
    """A list, and each of its things by its key."""

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One page."""
        page = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response(self.as_listed(page))

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One thing, with its entity tag."""
        return answer_if_changed(request, self.as_shown(self.get_object()))

    def as_shown(self, thing: Any) -> Any:
        """What an answer says of it: the entity tag is made of this."""
        return self.as_listed([thing])[0]

    def as_listed(self, things: Sequence[Any]) -> Any:
        """The same of several: what is read for it must not grow with their number."""
        return self.get_serializer(things, many=True).data


class ActionViewSet(ReadViewSet):
    """The same, with what can be done; each doorway is gate → body → one action → answer."""

    def body(self, **kwargs: Any) -> dict[str, Any]:
        """What was sent, checked; 422 names each fault."""
        serializer = self.get_serializer(data=self.request.data, **kwargs)
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def require_read(self, thing: Any) -> None:
        """Refuse to change what the asker has not read as it is now (If-Match)."""
        require_match(self.request, etag_of(self.as_shown(thing)))


def refused(status: int, words: str, name: str | None) -> Problem:
    """What an action refused: 422 at a field, 409 where the state of things is against it."""
    if status == 422:
        return invalid([{"name": name or "general", "detail": words}])
    title = {403: "Not allowed", 409: "Not as things stand"}[status]
    return Problem(status, title, words, fields=[{"name": name, "detail": words}] if name else None)
