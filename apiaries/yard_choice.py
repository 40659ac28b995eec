"""A yard chosen from a list that names the keeper where the name alone does not tell which yard it is."""

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import Any

import django_filters
from django import forms
from django.db.models import QuerySet
from django.forms.models import ModelChoiceIterator
from django.utils.translation import gettext_lazy as _

from apiaries.language import say
from apiaries.models import Person, Region, Yard
from apiaries.on_page import is_editable


class YardChoices(ModelChoiceIterator):
    """The yards by name; under their regions where there are several. No query: they are read already."""

    def __iter__(self) -> Iterator[Any]:
        if self.field.empty_label is not None:
            yield "", self.field.empty_label
        yards: Sequence[Yard] = self.field.seen  # type: ignore[attr-defined]
        named = Counter(yard.name for yard in yards)
        groups: dict[tuple[str, int], list[Any]] = {}
        for yard in yards:
            told = yard.name
            if named[yard.name] > 1:
                told = say("{yard} ({keeper})", yard=yard.name, keeper=yard.keeper.name)
            choice = (self.field.prepare_value(yard), told)
            groups.setdefault((yard.region.name, yard.region_id), []).append(choice)
        if len(groups) < 2:
            yield from next(iter(groups.values()), [])
            return
        for (region, _pk), choices in sorted(groups.items()):
            yield region, choices


class YardChoiceField(forms.ModelChoiceField):
    """One of the yards of its queryset."""

    iterator = YardChoices
    seen: Sequence[Yard] = ()
    """The yards of the queryset, in the order in which they are offered."""


class YardChoiceFilter(django_filters.ModelChoiceFilter):
    """A list narrowed to one yard."""

    field_class = YardChoiceField


class RegionFilter(django_filters.ModelChoiceFilter):
    """A list narrowed to the yards of one region."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            field_name="yard__region",
            queryset=Region.objects.none(),
            label=_("Region"),
            empty_label=_("All regions"),
            **kwargs,
        )


class SeenYards:
    """The yards that somebody may see, read once for a list of what lies in them and for the choices above it."""

    def __init__(self, person: Person) -> None:
        self.person = person

    @cached_property
    def yards(self) -> list[Yard]:
        """By name, with their club, region and keeper. One query."""
        seen = Yard.objects.visible_to(self.person).select_related("club", "region", "keeper")
        return list(seen.order_by("name", "keeper__name", "pk"))

    @cached_property
    def any_recordable(self) -> bool:
        """Whether the person may log in any of them. A query for who keeps none alone."""
        own = any(is_editable(self.person, yard) for yard in self.yards)
        return own or Yard.objects.recordable_by(self.person).exists()


def narrow_by_place(filters: dict[str, Any], seen: SeenYards) -> None:
    """Give `yard` and `region` of a list their choices; without a region for who sees the yards of one keeper."""
    yards = Yard.objects.visible_to(seen.person)
    filters["yard"].field.queryset = yards
    filters["yard"].field.seen = seen.yards
    filters["region"].field.queryset = regions_of(yards)
    if len({yard.keeper_id for yard in seen.yards}) < 2:
        del filters["region"]


def regions_of(yards: "QuerySet[Yard]") -> "QuerySet[Region]":
    """The regions in which they stand."""
    return Region.objects.filter(pk__in=yards.order_by().values("region_id")).order_by("name", "pk")
