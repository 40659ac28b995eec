"""Fields of counts. Numbers are typed as text: a browser's own number box turns a slip into silence."""

from decimal import Decimal
from typing import Any

from django import forms

MOST = 99_999


class Whole(forms.IntegerField):
    """A whole number typed as text. Empty stays empty: it is never read as 0."""

    def __init__(self, *, wrong: str, largest: int = MOST, **kwargs: Any) -> None:
        words = {"required": wrong, "invalid": wrong, "min_value": wrong}
        words["max_value"] = f"Enter a number up to {largest:,}."
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}))
        super().__init__(min_value=0, max_value=largest, error_messages=words, **kwargs)


class Days(forms.DecimalField):
    """Days to one decimal, with a point or a comma: 3, 2.5, 2,5."""

    def __init__(self, *, wrong: str, **kwargs: Any) -> None:
        places = "Enter the days with at most one decimal, such as 3 or 2.5."
        words = {"required": wrong, "invalid": wrong, "min_value": wrong}
        words |= {"max_decimal_places": places, "max_digits": places, "max_whole_digits": places}
        words["max_value"] = "A board lies for days, not for months. Look at the number again."
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

    def __init__(self, *, wrong: str, **kwargs: Any) -> None:
        super().__init__(
            choices=[("yes", "Yes"), ("no", "No")],
            coerce=lambda value: value == "yes",
            empty_value=None,
            widget=forms.RadioSelect,
            error_messages={"required": wrong, "invalid_choice": wrong},
            **kwargs,
        )
