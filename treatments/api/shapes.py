"""What treatments, recounts and outcomes look like to other programs: no drop without its range and what was counted.

Drops are parts of 1, negative where there were more mites after than before. What this interface calls the drop, the
method's papers call efficacy.
"""

from typing import Any

from rest_framework import serializers

from counts.api.shapes import PER_100_BEES, PER_DAY, MadeByOut, VoidOut
from counts.samples import Kind
from treatments._verdicts import Reason, Verdict
from treatments.ingredients import Ingredient
from treatments.recount_rules import RecountStatus
from treatments.sentences import Note
from treatments.status import TreatmentStatus


class WayOut(serializers.Serializer[Any]):
    """A way of treating: ingredient, how it is given, and whose label it follows."""

    key = serializers.CharField()
    name = serializers.CharField()
    ingredient = serializers.ChoiceField([one.value for one in Ingredient])
    way = serializers.CharField()
    jurisdiction = serializers.CharField()


class DoseOut(serializers.Serializer[Any]):
    """What one colony got."""

    colony = serializers.IntegerField()
    colony_name = serializers.CharField()
    amount = serializers.FloatField()
    unit = serializers.CharField()
    why_above = serializers.CharField(help_text="The reason for more than the published limit; mostly empty.")
    voided = VoidOut(allow_null=True)


class RoundOut(serializers.Serializer[Any]):
    """One going-through of the yard."""

    number = serializers.IntegerField()
    planned_on = serializers.DateField()
    given_on = serializers.DateField(allow_null=True)
    out_on = serializers.DateField(allow_null=True, help_text="When what stays in the hive was taken out.")
    out_due_on = serializers.DateField(allow_null=True, help_text="When it is to be taken out.")
    doses = DoseOut(many=True)


class RecountOut(serializers.Serializer[Any]):
    """The after-count that the treatment owes."""

    state = serializers.ChoiceField([one.value for one in RecountStatus])
    earliest_on = serializers.DateField()
    ideal_on = serializers.DateField()
    latest_on = serializers.DateField()
    reason = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    skipped = VoidOut(allow_null=True)


class DropOut(serializers.Serializer[Any]):
    """A drop in mites, as a part of 1, with its range."""

    drop = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    level = serializers.FloatField(help_text="How sure the range is, as a part of 1.")


class MeanOut(serializers.Serializer[Any]):
    """The rate of one side: of one count, or the mean over the colonies."""

    rate = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    unit = serializers.ChoiceField([PER_100_BEES, PER_DAY])
    level = serializers.FloatField(help_text="How sure the range is, as a part of 1.")
    made_by = MadeByOut()


class SideOut(serializers.Serializer[Any]):
    """What was counted before, or after."""

    mites = serializers.IntegerField()
    bees = serializers.IntegerField(allow_null=True, help_text="Of jars.")
    board_days = serializers.FloatField(allow_null=True, help_text="Of boards.")
    colonies = serializers.IntegerField()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    counts = serializers.ListField(
        child=serializers.IntegerField(), help_text="Those of them that you may see."
    )
    estimate = MeanOut(
        allow_null=True, help_text="null for several boards: their days differ, and no mean of them is told."
    )


class AgainstUntreatedOut(serializers.Serializer[Any]):
    """The second answer, against untreated colonies of the yard."""

    word = serializers.ChoiceField([one.value for one in Verdict])
    reason = serializers.ChoiceField([one.value for one in Reason], allow_null=True)
    drop = DropOut(allow_null=True)
    untreated_colonies = serializers.IntegerField()


class OutcomeOut(serializers.Serializer[Any]):
    """Did it work: a word, and the drop with its range that the word is about."""

    word = serializers.ChoiceField([one.value for one in Verdict])
    reason = serializers.ChoiceField([one.value for one in Reason], allow_null=True)
    sentence = serializers.CharField()
    kind = serializers.ChoiceField([one.value for one in Kind], allow_null=True, help_text="Of the counts.")
    drop = DropOut(allow_null=True, help_text="Corrected for what mites would have grown meanwhile.")
    as_counted = DropOut(allow_null=True, help_text="The same without that correction.")
    target = serializers.FloatField(allow_null=True, help_text="The published bar; null where there is none.")
    target_source = serializers.CharField()
    colonies_treated = serializers.IntegerField()
    colonies_compared = serializers.IntegerField(help_text="Counted both before and after.")
    mites_needed = serializers.IntegerField(
        allow_null=True, help_text="Fewest mites before with which it could be shown to have worked."
    )
    growing_days = serializers.FloatField(help_text="Days between the counts in which mites could multiply.")
    picked_high = serializers.BooleanField(
        help_text="Only colonies with the highest counts were treated: such counts fall by themselves."
    )
    before = SideOut(allow_null=True)
    after = SideOut(allow_null=True)
    notes = serializers.ListField(child=serializers.ChoiceField([one.value for one in Note]))
    against_untreated = AgainstUntreatedOut(allow_null=True)
    made_by = MadeByOut()


class TreatmentOut(serializers.Serializer[Any]):
    """One planned or finished set of rounds in one yard."""

    id = serializers.IntegerField()
    yard = serializers.IntegerField()
    application = WayOut()
    product = serializers.CharField(help_text="As the pack says, typed by the keeper; may be empty.")
    batch = serializers.CharField()
    note = serializers.CharField()
    state = serializers.ChoiceField([one.value for one in TreatmentStatus])
    first_on = serializers.DateField(allow_null=True)
    last_on = serializers.DateField(allow_null=True, help_text="Real where it is known, else planned.")
    withdrawal_days = serializers.IntegerField(allow_null=True, help_text="By the label; null: not entered.")
    clear_on = serializers.DateField(allow_null=True, help_text="End of the withdrawal period.")
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField(help_text="A name.")
    cancelled = VoidOut(allow_null=True)
    rounds = RoundOut(many=True)
    recount = RecountOut()
    outcome = OutcomeOut(allow_null=True, help_text="null while nothing was given, and once it is cancelled.")
