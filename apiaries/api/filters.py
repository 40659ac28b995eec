"""What lists can be asked for. An odd value is refused with 400, never taken as no question at all."""

from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema_field
from rest_framework.request import Request
from rest_framework.views import APIView

from apiaries.api.problems import faults_of
from apiaries.api.reading import odd_question

LARGEST_KEY = 2**63 - 1


class Filters(filters.DjangoFilterBackend):
    """The library's, with faults of the address kept apart from those of a body."""

    def filter_queryset(self, request: Request, queryset: "QuerySet[Any]", view: APIView) -> "QuerySet[Any]":
        filterset = self.get_filterset(request, queryset, view)
        if filterset is None:
            return queryset
        if not filterset.is_valid():
            raise odd_question(faults_of(filterset.errors))
        return filterset.qs


class _Key(forms.IntegerField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=LARGEST_KEY, **kwargs)


@extend_schema_field({"type": "integer", "minimum": 1})
class KeyFilter(filters.Filter):
    """By the key of a thing. One that is hidden or never was finds nothing, alike."""

    field_class = _Key


@extend_schema_field({"type": "boolean"})
class YesNoFilter(filters.TypedChoiceFilter):
    """`true` or `false`, and nothing else."""

    words: ClassVar = {"true": True, "false": False}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        choices = [(word, word) for word in self.words]
        super().__init__(*args, choices=choices, coerce=self.words.get, **kwargs)


class _Day(forms.DateField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d"], **kwargs)


@extend_schema_field({"type": "string", "format": "date"})
class DayFilter(filters.DateFilter):
    """A calendar day, `YYYY-MM-DD` (ISO 8601)."""

    field_class = _Day
