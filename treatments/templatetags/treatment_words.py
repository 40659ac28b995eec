"""Words that stand in the data, in the reader's language.

What was kept from the reference data with a treatment stays English in the database: units, reasons of recounts.
Pages say it where they show it.

    {{ dose.unit|said }}    strips
"""

from django import template

from apiaries.language import say

register = template.Library()


@register.filter
def said(text: object) -> str:
    """A text of the data in the reader's language; as it stands where no catalogue knows it."""
    return say(str(text)) if text else ""
