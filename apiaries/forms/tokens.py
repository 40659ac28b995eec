"""A new token of another program."""

from typing import Any, ClassVar

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from apiaries.actions.tokens import LIVES, TooManyTokens
from apiaries.api.scopes import Scope, scope_words
from apiaries.fields import OneLine
from apiaries.forms.base import PageForm
from apiaries.language import say_many


class TokenForm(PageForm):
    """What it is for, what it may do, and how long it works."""

    name = OneLine(
        max_length=60,
        label=_("What is it for?"),
        help_text=_("Your own words, to know it by: for example “scale at the club house”."),
        error_messages={"required": _("Say what the token is for.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    scopes = forms.MultipleChoiceField(
        label=_("What may it do?"),
        help_text=_("As little as the program needs. It never sees or does more than you can."),
        error_messages={"required": _("Choose at least one thing it may do.")},
        widget=forms.CheckboxSelectMultiple,
    )
    days = forms.TypedChoiceField(
        label=_("How long does it work?"),
        help_text=_("Then make a new one. You can end it at any time."),
        coerce=int,
        error_messages={"required": _("Choose how long it works.")},
        widget=forms.RadioSelect,
    )

    refusals: ClassVar = {
        TooManyTokens: (None, _("You have 50 tokens that work. Revoke one that you no longer need first.")),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scopes"].choices = [(scope.value, capfirst(scope_words(scope))) for scope in Scope]
        self.fields["days"].choices = [(days, say_many("{n} day", "{n} days", days)) for days in LIVES]
