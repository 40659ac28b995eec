"""Words that stand in the data, in the reader's language.

The reference data, and what was kept from them with a treatment, stay English in the database: names of ways of
treating, units, reasons. Pages say them where they show them.

    {{ treatment.application.name|said }}    Oxalic acid, vapour
"""

from django import template

from apiaries.language import say

register = template.Library()


@register.filter
def said(text: object) -> str:
    """A text of the data in the reader's language; as it stands where no catalogue knows it."""
    return say(str(text)) if text else ""
