"""What published months look like to other programs: the bands of the page, and never more."""

from typing import Any

from rest_framework import serializers

from counts.api.shapes import PER_100_BEES, PER_DAY
from counts.samples import Kind
from reports.kinds import KIND_WORDS
from reports.pressure import CountBand, SuppressReason

PUBLISHED, HIDDEN, NO_SAMPLES, NOT_PUBLISHED = "published", "hidden", "no_samples", "not_published"
BANDS = [one.value for one in CountBand]


class RegionOut(serializers.Serializer[Any]):
    """A region of your club."""

    id = serializers.IntegerField()
    name = serializers.CharField()


class ShareOut(serializers.Serializer[Any]):
    """The share of yards above the action level, in whole per cent."""

    level_key = serializers.CharField(help_text="The published action level that it is about.")
    level_rate = serializers.FloatField(help_text="In the unit of the figure.")
    source = serializers.CharField()  # type: ignore[assignment]
    share = serializers.CharField(help_text="Such as 40 % or <12 %: never a bare 0 or 100.")
    low = serializers.IntegerField()
    high = serializers.IntegerField()


class FigureOut(serializers.Serializer[Any]):
    """The mean of the yards, with its range and how much was counted, in steps."""

    rate = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    level = serializers.FloatField(help_text="How sure the range is, as a part of 1.")
    uncertain = serializers.BooleanField(help_text="A wide range, or few yards.")
    median = serializers.FloatField(allow_null=True, help_text="Of the yards.")
    about_bees = serializers.IntegerField(allow_null=True, help_text="To one digit; null for boards.")
    about_board_days = serializers.IntegerField(allow_null=True, help_text="To one digit; null for jars.")
    keepers = serializers.ChoiceField(BANDS)
    yards = serializers.ChoiceField(BANDS)
    colonies = serializers.ChoiceField(BANDS)
    counts = serializers.ChoiceField(BANDS)
    counts_without_mites = serializers.ChoiceField(BANDS)
    yards_above = ShareOut(allow_null=True)


class MonthOut(serializers.Serializer[Any]):
    """One month as it was published: a figure, or why there is none."""

    month = serializers.DateField(help_text="Its first day.")
    state = serializers.ChoiceField(
        [PUBLISHED, HIDDEN, NO_SAMPLES, NOT_PUBLISHED],
        help_text="no_samples: nobody logged a count of this kind; it says nothing about mites.",
    )
    published_at = serializers.DateTimeField(allow_null=True)
    hidden_because = serializers.ChoiceField([one.value for one in SuppressReason], allow_null=True)
    figure = FigureOut(allow_null=True)


class MonthsOut(serializers.Serializer[Any]):
    """A year of one region's published months."""

    region = RegionOut()
    kind = serializers.ChoiceField([kind.value for kind in KIND_WORDS])
    year = serializers.IntegerField()
    unit = serializers.ChoiceField([PER_100_BEES, PER_DAY])
    hidden_when = serializers.CharField(help_text="The rule by which months are hidden, in words.")
    next_published_on = serializers.DateField()
    items = MonthOut(many=True)


KINDS = [Kind(kind).value for kind in KIND_WORDS]
