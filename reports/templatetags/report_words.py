"""Words and places as sentences of these pages write them.

    {{ results.ingredient|inside }}   oxalic acid
    {{ centre|place_words }}          52.52, 13.405

Nothing given is told as nothing.
"""

from decimal import Decimal

from django import template

from apiaries.language import say_as
from apiaries.templatetags.recount_words import MINUS

register = template.Library()


@register.filter
def inside(words: object) -> str:
    """Words that stand alone with a capital, inside a sentence: not every language writes its nouns small there."""
    told = str(words)
    return told.lower() if say_as("capitals inside a sentence: lower or keep", "lower") == "lower" else told


@register.filter
def place_words(place: tuple[float, float] | None) -> str:
    """Latitude and longitude with a decimal point in every language, since a comma parts the two."""
    if place is None:
        return ""
    return ", ".join(f"{Decimal(str(one)).normalize():f}".replace("-", MINUS) for one in place)
