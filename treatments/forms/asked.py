"""Which boxes of a form a medicine record asks for, said at the box."""

from typing import Any

from apiaries.language import say
from apiaries.models import Club
from treatments.medicine import Entry, asked_of, regime_of
from treatments.medicine_record import rules


def say_what_is_asked(fields: dict[str, Any], club: Club) -> None:
    """Add to the hint of each box that the rules of the club's country ask for it; it may stay empty for now."""
    for item in asked_of(Entry.USE, regime_of(club.jurisdiction), rules()):
        if field := fields.get(item.value):
            asked = say("The medicine record asks for this.")
            field.help_text = f"{field.help_text} {asked}".strip()
