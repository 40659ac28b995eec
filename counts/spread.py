"""How unlike the colonies of a yard are in this club: by its own counts once enough yards allow it."""

import datetime as dt
from collections import defaultdict
from dataclasses import replace

from django.core.cache import cache
from django.db.models import DateField, ExpressionWrapper, F, Max, Window

from apiaries.language import say
from apiaries.second_lock import by_the_service
from counts.constants import DEFAULTS, Constant, Constants, Mark
from counts.dispersion import ClubSpread, club_spread
from counts.estimate import jar_c2
from counts.models import MiteSample
from counts.samples import BeesBy, Kind, Method, kind_of

ROUND_DAYS = 3
"""Jars of a yard's newest day and the two before it are one occasion, as for the yard's own mean (our choice)."""
KEPT_SECONDS = 6 * 60 * 60
"""The spread of a club moves slowly: it is worked out again after so long (our choice)."""
_WASHES = [method.value for method in Method if kind_of(method) is Kind.WASH]


def constants_of_club(club_id: int) -> Constants:
    """Today's constants, with the club's own spread between colonies in place of the default where it has one."""
    key = f"counts.spread:{club_id}"
    kept = cache.get(key)
    if kept is None:
        found = spread_of_club(club_id)
        kept = [found.between_c2, found.yards] if found else []
        cache.set(key, kept, KEPT_SECONDS)
    if not kept:
        return DEFAULTS
    source = say("your club’s own washes, the newest of {yards} yards, pooled", yards=kept[1])
    own = Constant(round(kept[0], 3), Mark.COMPUTED, source)
    return replace(DEFAULTS, between_c2=own)


@by_the_service
def spread_of_club(club_id: int) -> ClubSpread | None:
    """The spread of the club's washes within a yard, from the newest counting days of each yard; None for too few."""
    own = MiteSample.objects.standing().filter(yard__club_id=club_id, method__in=_WASHES, rate__isnull=False)
    newest = Window(Max("sampled_on"), partition_by="yard_id")
    since = ExpressionWrapper(F("newest") - dt.timedelta(days=ROUND_DAYS), output_field=DateField())
    rows = own.annotate(newest=newest).filter(sampled_on__gt=since)
    jars: dict[int, dict[int, tuple[int, int]]] = defaultdict(dict)
    for yard, colony, mites, bees in rows.values_list("yard_id", "colony_id", "mites", "bees"):
        before = jars[yard].get(colony, (0, 0))  # two jars of one colony are one sample of it
        jars[yard][colony] = before[0] + mites, before[1] + (bees or 0)
    within = jar_c2(Method.ALCOHOL_WASH, BeesBy.VOLUME)
    found = club_spread([list(yard.values()) for yard in jars.values()], within_c2=within)
    return found if isinstance(found, ClubSpread) else None
