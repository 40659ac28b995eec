"""Treatments on a yard's page: read once, for all parts that show them or work something out of them."""

import datetime as dt

from django.db.models import Q, QuerySet

from apiaries.models.one_of import one_of
from apiaries.on_page import YardOnPage
from apiaries.second_lock import by_the_service
from counts.on_page import made_here_for
from treatments.around import Around, around_of
from treatments.around_read import FromPage
from treatments.dosed import Dosed, read_doses
from treatments.models import Dose, Round, Treatment

PANEL_ROWS = 10


def listed(treatments: "QuerySet[Treatment]") -> "QuerySet[Treatment]":
    """Newest first."""
    return treatments.order_by("-recorded_at", "-pk")


def treatments_for(page: YardOnPage) -> list[Treatment]:
    """Those of the yard, newest first; of who logs there all, as what is to be done may hang on any of them.

    For others the newest do, and one more where there are more. As `page.once(treatments_for)`. Two statements.
    """
    if not page.may_have(Treatment):
        return []
    found = listed(Treatment.objects.filter(yard=page.yard).select_related("recount"))
    found = found.prefetch_related(
        "application", "rounds"
    )  # a way of treating is wide, and mostly the same again
    if not page.recordable:
        found = found.filter(pk__in=Treatment.objects.visible_to(page.person).values("pk"))
    rows = list(found if page.recordable else found[: PANEL_ROWS + 1])
    for treatment in rows:
        treatment.yard = page.yard
    return rows


@by_the_service  # also where the reader may not look: what is worked out of them is the same for everybody
def doses_for(page: YardOnPage) -> list[Dosed]:
    """Those of the yard's treatments, and all of the colonies that are in it or were counted in it.

    As `page.once(doses_for)`. Two statements at most.
    """
    if not page.may_have(Dose):
        return []
    bees = {colony.pk for colony in page.colonies} | {one.colony_id for one in page.once(made_here_for)}
    rounds = Round.objects.filter(treatment__yard=page.yard).order_by()
    doses = Dose.objects.filter(Q(colony__in=bees) | one_of("round_id", rounds.values("pk")))
    return read_doses(doses, {one.application for one in page.once(treatments_for)})


def around_for(page: YardOnPage, on: dt.date) -> dict[int, Around]:
    """What is known around them on a day: `page.once(around_for, on)`."""
    source = FromPage(page, page.once(doses_for))
    return around_of(page.once(treatments_for), on, source=source)


def is_treated(page: YardOnPage, on: dt.date) -> bool:
    """Whether a living colony of the yard has something of a treatment in it, as far as anybody said."""
    return any(
        one.ended_on is None and one.stands_in_id == page.yard.pk and one.dates.is_in_hive(on)
        for one in page.once(doses_for)
    )
