"""Fields of counts. Numbers are typed as text: a browser's own number box turns a slip into silence."""

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from apiaries.language import figure

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

MOST = 99_999
_figure = lazy(figure, str)


class Whole(forms.IntegerField):
    """A whole number typed as text. Empty stays empty: it is never read as 0."""

    def __init__(self, *, wrong: "StrOrPromise", largest: int = MOST, **kwargs: Any) -> None:
        words: dict[str, StrOrPromise] = {"required": wrong, "invalid": wrong, "min_value": wrong}
        words["max_value"] = format_lazy(_("Enter a number up to {most}."), most=_figure(f"{largest:,}"))
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}))
        super().__init__(min_value=0, max_value=largest, error_messages=words, **kwargs)


class Days(forms.DecimalField):
    """Days to one decimal, with a point or a comma: 3, 2.5, 2,5."""

    def __init__(self, *, wrong: "StrOrPromise", **kwargs: Any) -> None:
        places = _("Enter the days with at most one decimal, such as 3 or 2.5.")
        words: dict[str, StrOrPromise] = {"required": wrong, "invalid": wrong, "min_value": wrong}
        words |= {"max_decimal_places": places, "max_digits": places, "max_whole_digits": places}
        words["max_value"] = _("A board lies for days, not for months. Look at the number again.")
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(
            min_value=Decimal(0),
            max_value=Decimal(99),
            decimal_places=1,
            error_messages=words,
            widget=widget,
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.strip().replace(",", ".") if isinstance(value, str) else value)


class YesNo(forms.TypedChoiceField):
    """Yes or no with neither chosen beforehand; cleans to True, False or None."""

    def __init__(self, *, wrong: "StrOrPromise", **kwargs: Any) -> None:
        super().__init__(
            choices=[("yes", _("Yes")), ("no", _("No"))],
            coerce=lambda value: value == "yes",
            empty_value=None,
            widget=forms.RadioSelect,
            error_messages={"required": wrong, "invalid_choice": wrong},
            **kwargs,
        )
