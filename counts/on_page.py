"""Counts on a yard's page: read once, for all parts that show them or work something out of them.

Who sees a yard sees the counts made in it. Those of its colonies that were made elsewhere are read too, for what is
worked out of them; none is shown before it was asked whether the reader may see it.
"""

from django.db.models import Q, prefetch_related_objects

from apiaries.models import Colony, Yard
from apiaries.on_page import YardOnPage
from apiaries.second_lock import by_the_service
from counts.constants import Constants
from counts.models import EstimateBasis, MiteSample
from counts.spread import constants_of_club
from counts.standing import published_for
from counts.yards import YardSays, newest_jars_of, yard_says_of


@by_the_service  # also counts made where the reader may not look: see above
def counts_for(page: YardOnPage) -> list[MiteSample]:
    """All that stand and were made in the yard, or of a colony that is in it now; oldest first, with yard and colony.

    As `page.once(counts_for)`. One statement; up to three more for colonies and yards elsewhere.
    """
    if not page.may_have(MiteSample):
        return []
    colonies = {colony.pk: colony for colony in page.colonies}
    mine = MiteSample.objects.standing().filter(Q(yard=page.yard) | Q(colony__in=list(colonies)))
    found = list(mine.order_by("sampled_on", "pk"))
    colonies |= Colony.objects.in_bulk({one.colony_id for one in found} - set(colonies))
    for one in found:
        one.colony = colonies[one.colony_id]
        if one.yard_id == page.yard.pk:
            one.yard = page.yard
    prefetch_related_objects([one for one in found if one.yard_id != page.yard.pk], "yard__club")
    return found


def made_here_for(page: YardOnPage) -> list[MiteSample]:
    """Those made in the yard itself: `page.once(made_here_for)`."""
    return [one for one in page.once(counts_for) if one.yard_id == page.yard.pk]


def last_for(page: YardOnPage) -> list[MiteSample]:
    """The newest of each living colony that the reader may see, with its basis: `page.once(last_for)`.

    The bees take their counts along when they move.
    """
    living = {colony.pk for colony in page.living}
    mine = [one for one in page.once(counts_for) if one.colony_id in living]
    elsewhere = {one.yard_id for one in mine} - {page.yard.pk}
    seen = {page.yard.pk}
    if elsewhere:
        seen |= set(
            Yard.objects.visible_to(page.person).filter(pk__in=elsewhere).values_list("pk", flat=True)
        )
    last = list({one.colony_id: one for one in mine if one.yard_id in seen}.values())
    bases = EstimateBasis.objects.in_bulk({one.basis_id for one in last if one.basis_id is not None})
    for one in last:
        one.basis = None if one.basis_id is None else bases[one.basis_id]
    return last


def newest_jars_for(page: YardOnPage) -> list[MiteSample]:
    """The jars of the yard's newest counting days: `page.once(newest_jars_for)`."""
    return newest_jars_of(page.once(made_here_for))


def yard_says_for(page: YardOnPage) -> YardSays | None:
    """What they say of the yard: `page.once(yard_says_for)`."""
    jars = page.once(newest_jars_for)
    if not jars:
        return None
    published, constants = page.once(published_for), page.once(constants_for)
    return yard_says_of(page.yard, jars, published, constants, living=len(page.living))


def constants_for(page: YardOnPage) -> Constants:
    """Today's constants with the spread of the yard's club: `page.once(constants_for)`."""
    return constants_of_club(page.yard.club_id)
