"""Yards and colonies, as their pages show them."""

from typing import Any, ClassVar

from django.db.models import Exists, OuterRef, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apiaries.api.filters import KeyFilter, YesNoFilter
from apiaries.api.scopes import Scope
from apiaries.api.views import ReadViewSet
from apiaries.models import Colony, Person, Region, Yard


class RegionName(serializers.ModelSerializer[Region]):
    """A region by its name."""

    class Meta:
        model = Region
        fields = ("id", "name")


class Place(serializers.Serializer[Yard]):
    """Degrees, north and east (WGS 84)."""

    latitude = serializers.DecimalField(max_digits=8, decimal_places=5, coerce_to_string=False)
    longitude = serializers.DecimalField(max_digits=8, decimal_places=5, coerce_to_string=False)


class YardOut(serializers.ModelSerializer[Yard]):
    """A yard, with no more than its page shows this person."""

    region = RegionName()
    keeper = serializers.CharField(source="keeper.name", help_text="The keeper's name.")
    place = serializers.SerializerMethodField(
        help_text="The exact place: null for those who see only the area, and where none is kept."
    )
    cell = serializers.CharField(
        help_text="The area of about 250 km², an H3 cell; empty where none is known."
    )
    yours = serializers.BooleanField(help_text="Whether you keep it.")
    may_record = serializers.BooleanField(help_text="Whether you may log counts and treatments there.")

    class Meta:
        model = Yard
        fields = (
            "id", "name", "region", "keeper", "yours", "may_record", "time_zone", "place", "cell", "closed_on"
        )  # fmt: skip

    @extend_schema_field(Place(allow_null=True))
    def get_place(self, yard: Any) -> dict[str, Any] | None:
        if not yard.may_place or yard.latitude is None:
            return None
        return dict(Place(yard).data)


class YardFilters(filters.FilterSet):
    """By region, and open or closed."""

    region = KeyFilter(field_name="region", help_text="Only of the region with this key.")
    open = YesNoFilter(
        field_name="closed_on", lookup_expr="isnull", help_text="Only open ones, or only closed ones."
    )

    class Meta:
        model = Yard
        fields: ClassVar = ["region", "open"]


class YardViewSet(ReadViewSet):
    """The yards you may see: your own, those you help in, and those of your regions as an inspector."""

    reads = Scope.YARDS_READ
    serializer_class = YardOut
    filterset_class = YardFilters

    def queryset_for(self, person: Person) -> "QuerySet[Yard]":
        return yards_with_rights(person)


class ColonyOut(serializers.ModelSerializer[Colony]):
    """A colony as its page describes it; its counts and treatments are asked for elsewhere."""

    yard = serializers.IntegerField(source="yard_id", help_text="The key of the yard it stands in now.")
    started_on = serializers.DateField(
        source="known_start", allow_null=True, help_text="null where nobody noted it."
    )
    ended_why = serializers.CharField(source="end_words")

    class Meta:
        model = Colony
        fields = (
            "id", "yard", "name", "label_code", "brood_boxes", "supers_on", "brood", "brood_seen_on",
            "started_on", "ended_on", "ended_why",
        )  # fmt: skip


class ColonyFilters(filters.FilterSet):
    """By yard, and living or gone."""

    yard = KeyFilter(field_name="yard", help_text="Only of the yard with this key.")
    living = YesNoFilter(
        field_name="ended_on", lookup_expr="isnull", help_text="Only living ones, or only those gone."
    )

    class Meta:
        model = Colony
        fields: ClassVar = ["yard", "living"]


class ColonyViewSet(ReadViewSet):
    """The colonies that stand in yards you may see, and those that ended there."""

    reads = Scope.YARDS_READ
    serializer_class = ColonyOut
    filterset_class = ColonyFilters

    def queryset_for(self, person: Person) -> "QuerySet[Colony]":
        return Colony.objects.visible_to(person)


def yards_with_rights(person: Person) -> "QuerySet[Yard]":
    """Yards the person may see, each with `yours`, `may_record` and `may_place` for them."""
    same = OuterRef("pk")
    return (
        Yard.objects.visible_to(person)
        .select_related("region", "keeper")
        .annotate(
            yours=Exists(Yard.objects.filter(pk=same, keeper_id=person.pk)),
            may_record=Exists(Yard.objects.recordable_by(person).filter(pk=same)),
            may_place=Exists(Yard.objects.exact_place_visible_to(person).filter(pk=same)),
        )
    )
