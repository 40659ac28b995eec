"""Which treatments a list shows."""

import datetime as dt
from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from apiaries.models import Person, Yard
from apiaries.yard_choice import RegionFilter, SeenYards, YardChoiceFilter, narrow_by_place
from treatments.models import Treatment
from treatments.recount_rules import RecountStatus
from treatments.results import recount_statuses, results_for
from treatments.sentences import VERDICT_WORDS
from treatments.status import TreatmentStatus

MOST_JUDGED = 500
"""An answer and a recount's standing are worked out from the counts, one by one: of more, the newest (our choice)."""
TO_LOOK_AT = [(RecountStatus.LATE.value, _("Recount late")), (RecountStatus.DUE.value, _("Recount due"))]
NOT_JUDGED = (TreatmentStatus.PLANNED, TreatmentStatus.CANCELLED)


class TreatmentFilter(django_filters.FilterSet):
    """By region, yard, recount and answer. What cannot be read is said, and left out."""

    region = RegionFilter()
    yard = YardChoiceFilter(queryset=Yard.objects.none(), empty_label=_("All yards"), label=_("Yard"))
    recount = django_filters.ChoiceFilter(
        label=_("Recount"), method="by_recount", choices=TO_LOOK_AT, empty_label=_("All")
    )
    outcome = django_filters.ChoiceFilter(
        label=_("Did it work?"),
        method="by_outcome",
        choices=[(verdict.value, _(words)) for verdict, words in VERDICT_WORDS.items()],
        empty_label=_("All"),
    )

    class Meta:
        model = Treatment
        fields: list[str] = []

    def __init__(
        self, data: Any, *, person: Person, today: dt.date, seen: SeenYards | None = None, **kwargs: Any
    ) -> None:
        seen = seen or SeenYards(person)
        super().__init__(data, queryset=Treatment.objects.visible_to(person), **kwargs)
        narrow_by_place(self.filters, seen)
        self.today = today
        self.cut = False

    def by_recount(self, treatments: "QuerySet[Treatment]", name: str, value: str) -> "QuerySet[Treatment]":
        """Those whose recount is due, or late, as the list tells it."""
        owed = treatments.filter(
            cancelled_at=None, recount__skipped_at=None, recount__earliest_on__lte=self.today
        )
        newest = self._newest(owed)
        statuses = recount_statuses([one.recount for one in newest], self.today)
        return treatments.filter(pk__in=[one.pk for one in newest if statuses[one.recount.pk].value == value])

    def by_outcome(self, treatments: "QuerySet[Treatment]", name: str, value: str) -> "QuerySet[Treatment]":
        """Those with that answer, as the list tells it."""
        results = results_for(self._newest(treatments), self.today)
        return treatments.filter(
            pk__in=[
                pk
                for pk, result in results.items()
                if result.outcome.verdict.value == value
                and result.treatment.status(self.today) not in NOT_JUDGED
            ]
        )

    def _newest(self, treatments: "QuerySet[Treatment]") -> list[Treatment]:
        """So many as are worked out at once; `cut` says that there were more."""
        rows = treatments.select_related("application", "yard__club", "recount").prefetch_related("rounds")
        found = list(rows.order_by("-recorded_at", "-pk")[: MOST_JUDGED + 1])
        self.cut = self.cut or len(found) > MOST_JUDGED
        return found[:MOST_JUDGED]
