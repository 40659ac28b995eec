"""{% state "verdict" row.verdict %}: a word with its shape and edge, as parts/verdict.html and its like draw it.

A page tells the same few states in row after row: each is drawn once for a language, and kept. For a state with a note,
or large, include the part itself.
"""

from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import get_language

register = template.Library()


@register.simple_tag
def state(part: str, key: str) -> SafeString:
    """As the part of that name draws it."""
    return _drawn(str(part), str(key), get_language())


@lru_cache(maxsize=200)
def _drawn(part: str, key: str, _language: str | None) -> SafeString:
    return render_to_string(f"parts/{part}.html", {"key": key, "note": "", "large": False})
