"""{% words_address as script_words %}: where the scripts of a page get their words, empty where it is English."""

from django import template
from django.utils.translation import get_language

from config.script_words import words_address as address_of

register = template.Library()


@register.simple_tag
def words_address() -> str:
    """The address for the language of whoever reads."""
    return address_of(get_language() or "")
