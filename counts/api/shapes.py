"""What counts and estimates look like to other programs: no rate without its range, its bees and how it was made."""

from typing import Any

from rest_framework import serializers

from apiaries.models import Brood
from counts._verdicts import Refusal
from counts.action_levels import LevelUnit, Standing
from counts.measuring import MEASURES
from counts.samples import BeesBy, Kind, Method

PER_100_BEES, PER_DAY = "per_100_bees", "per_day"
STANDING, VOIDED, CORRECTED = "standing", "voided", "corrected"
TREND = "trend"
"""A board without a level for its day: it shows only whether the drop rises."""


class TunedOut(serializers.Serializer[Any]):
    """One constant that the sums used."""

    value = serializers.FloatField()
    sd = serializers.FloatField(help_text="Its own standard deviation; 0 where it is taken as sure.")


class MadeByOut(serializers.Serializer[Any]):
    """How a figure was worked out: enough to do it again."""

    version = serializers.CharField(help_text="Raised whenever a shown figure would change.")
    constants = serializers.DictField(
        child=TunedOut(), help_text="By name, as docs/reference/constants.md has them."
    )


class EstimateOut(serializers.Serializer[Any]):
    """The estimate of one count. Rate, low and high are there together or not at all."""

    rate = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    unit = serializers.ChoiceField([PER_100_BEES, PER_DAY])
    level = serializers.FloatField(help_text="How sure the range is, as a part of 1.")
    mites = serializers.IntegerField()
    bees = serializers.IntegerField(allow_null=True, help_text="Of a jar.")
    board_days = serializers.FloatField(allow_null=True, help_text="Of a board.")
    one_sided = serializers.BooleanField(help_text="No mite was found: high is an upper bound, low is 0.")
    rough = serializers.BooleanField(help_text="Few bees, a long board, or a small part of one.")
    corrected = serializers.BooleanField(
        help_text="Made up for mites that the method leaves on the bees, or for cells that were not counted."
    )
    refusal = serializers.ChoiceField(
        [one.value for one in Refusal],
        allow_null=True,
        help_text="Why there is no rate, or why it is compared with nothing.",
    )
    made_by = MadeByOut()


class LevelOut(serializers.Serializer[Any]):
    """A published action level, as its issuer printed it, and how the rate stands to it."""

    key = serializers.CharField()
    issuer = serializers.CharField()
    region = serializers.CharField()
    from_month = serializers.IntegerField(
        allow_null=True, help_text="First month of its season; null: all year."
    )
    to_month = serializers.IntegerField(
        allow_null=True, help_text="Last month; may be earlier than the first."
    )
    brood = serializers.CharField(allow_null=True, help_text="Colonies it is for; null: all.")
    at = serializers.FloatField(allow_null=True, help_text="In the issuer's own unit.")
    at_inclusive = serializers.BooleanField(help_text="Whether the issuer advises acting at this very rate.")
    unit = serializers.ChoiceField([one.value for one in LevelUnit])
    rate = serializers.FloatField(allow_null=True, help_text="The same in the unit of the estimate.")
    mark = serializers.CharField(
        help_text="How far it can be trusted, in English: published, calculated, from memory."
    )
    source = serializers.CharField()  # type: ignore[assignment]
    standing = serializers.ChoiceField([one.value for one in Standing])


class StandingOut(serializers.Serializer[Any]):
    """How a rate stands to the action levels that the club goes by. Above or below is said only where 9 in 10 sure."""

    word = serializers.ChoiceField(
        [*(one.value for one in Standing), TREND],
        help_text="trend: a board for which no level is published; it tells only a rise or fall.",
    )
    why = serializers.CharField(
        help_text="Why it is not enough to say, in the reader's language; may be empty."
    )
    sentence = serializers.CharField(help_text="The answer in a sentence, in the reader's language.")
    levels = LevelOut(many=True)


class VoidOut(serializers.Serializer[Any]):
    """That a fact no longer counts: it stays to be seen."""

    at = serializers.DateTimeField()
    by = serializers.CharField(help_text="A name.")
    why = serializers.CharField()


class RestoredOut(serializers.Serializer[Any]):
    """A void that was lifted."""

    voided = VoidOut()
    restored = VoidOut()


class CountOut(serializers.Serializer[Any]):
    """One count as it was entered, what became of it, and what it says."""

    id = serializers.IntegerField()
    version = serializers.IntegerField(help_text="Rises with each void and each restoration.")
    colony = serializers.IntegerField()
    colony_name = serializers.CharField()
    yard = serializers.IntegerField(help_text="Where the colony stood on that day.")
    method = serializers.ChoiceField([one.value for one in Method])
    kind = serializers.ChoiceField([one.value for one in Kind], help_text="Only counts of one kind compare.")
    sampled_on = serializers.DateField(help_text="The calendar date in the yard.")
    mites = serializers.IntegerField()
    bees = serializers.IntegerField(allow_null=True)
    bees_by = serializers.ChoiceField([one.value for one in BeesBy], allow_null=True)
    measure = serializers.ChoiceField(MEASURES, allow_null=True, help_text="The measure that was filled.")
    board_days = serializers.FloatField(allow_null=True)
    cells_counted = serializers.IntegerField(
        allow_null=True, help_text="Of a board, or the drone cells opened."
    )
    cells_total = serializers.IntegerField(allow_null=True, help_text="Cells on the whole board.")
    treatment_in_hive = serializers.BooleanField(allow_null=True, help_text="Asked of boards only.")
    brood = serializers.ChoiceField(Brood.values)
    note = serializers.CharField()
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField(help_text="A name.")
    state = serializers.ChoiceField([STANDING, VOIDED, CORRECTED])
    voided = VoidOut(allow_null=True)
    restored = RestoredOut(many=True)
    corrects = serializers.IntegerField(allow_null=True, help_text="The count that this one replaced.")
    corrected_by = serializers.IntegerField(allow_null=True, help_text="The count that replaced this one.")
    estimate = EstimateOut(allow_null=True, help_text="null for drone brood, which gives no rate.")
    standing = StandingOut()


class YardEstimateOut(serializers.Serializer[Any]):
    """A yard's mean, from the washes (or the rolls) of its newest counting days."""

    kind = serializers.ChoiceField([Kind.WASH.value, Kind.ROLL.value])
    rate = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    unit = serializers.ChoiceField([PER_100_BEES])
    level = serializers.FloatField(help_text="How sure the range is, as a part of 1.")
    mites = serializers.IntegerField()
    bees = serializers.IntegerField()
    colonies_counted = serializers.IntegerField()
    colonies = serializers.IntegerField()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    one_sided = serializers.BooleanField(help_text="No mite was found: high is an upper bound, low is 0.")
    rough = serializers.BooleanField(help_text="Fewer than three colonies of a larger yard: no verdict.")
    refusal = serializers.ChoiceField([one.value for one in Refusal], allow_null=True)
    made_by = MadeByOut()


class YardSaysOut(serializers.Serializer[Any]):
    """What the newest counts of a yard say about it as a whole."""

    yard = serializers.IntegerField()
    estimate = YardEstimateOut(allow_null=True, help_text="null where no jar was counted yet.")
    standing = StandingOut()
    settle = serializers.CharField(help_text="What more would settle it, in a sentence; may be empty.")
