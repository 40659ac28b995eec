"""Where colonies stood after a treatment, and where their yard stands by now."""

from typing import Any

from django.db.models import QuerySet

from apiaries.language import mark, say
from counts.models import MiteSample
from counts.samples import Kind
from counts.sentences import REFUSAL_SENTENCES, estimate_sentence
from counts.spread import constants_of_club
from counts.standing import Published, Said, compare_yard, in_short
from counts.yards import YardSays, mean_of, yard_says
from treatments.results import Result

ACROSS_THESE = (
    mark("Across these colonies, at least about {mites}."),
    mark("Across these colonies, up to about {mites}."),
    mark("Across these colonies, between about {low} and {mites}."),
)


def standing_after(result: Result) -> dict[str, Any] | None:
    """Where the colonies stood when they were counted after it, to the club's action level, and on which days.

    A second answer, apart from the drop.
    """
    if not result.after:
        return None
    days = [sample.sampled_on for sample in result.after]
    return _standing(result) | {"first": min(days), "last": max(days)}


def newest_since(result: Result, visible: "QuerySet[MiteSample]") -> YardSays | None:
    """What the yard says by now, where it was counted after what the verdict rests on."""
    yard = result.treatment.yard
    says = yard_says(yard, visible, Published(), living=yard.colonies.living().count())
    last = max((sample.sampled_on for sample in result.after), default=None)
    return says if says and last and says.last > last else None


def _standing(result: Result) -> dict[str, Any]:
    published = Published()
    last = max(result.after, key=lambda sample: (sample.sampled_on, sample.pk))
    if len(result.after) == 1 or result.kind is Kind.BOARD:
        return _one_now(published.said(last))
    constants = constants_of_club(last.yard.club_id)
    estimate = mean_of(result.after, max(result.treated, result.colonies_counted_after), constants)
    compared = compare_yard(estimate, published.of(last.yard.club.action_level_issuer, last))
    acting = [one for one in compared if one.level.act_rate is not None]
    level, standing = (acting[0].level, acting[0].standing) if len(acting) == 1 else (None, None)
    sentence = estimate_sentence(estimate, level, standing, ACROSS_THESE)
    return {"sentence": sentence, "key": in_short(tuple(acting)) if acting else ""}


def _one_now(said: Said) -> dict[str, Any]:
    estimate = said.estimate
    if estimate is None or estimate.rate is None:
        reason = estimate.reason if estimate else None
        sentence = say(REFUSAL_SENTENCES[reason]) if reason else say("No estimate.")
        return {"sentence": sentence, "key": ""}
    acting = [one for one in said.compared if one.level.act_rate is not None]
    level = (acting[0].level, acting[0].standing) if len(acting) == 1 else (None, None)
    return {"sentence": estimate_sentence(estimate, *level), "key": said.key if acting else ""}
