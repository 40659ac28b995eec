"""A club's choices and its regions."""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TimeZone
from apiaries.forms.base import PageForm
from apiaries.issuer_levels import issuer_levels
from apiaries.language import say
from apiaries.models import Club, Region
from apiaries.reference import jurisdictions
from apiaries.visit_reference import written_rules
from apiaries.visit_rules import OWN

FIELDS = ("name", "time_zone", "jurisdiction", "action_level_issuer", "bees_per_half_cup")


def _jurisdictions() -> list[tuple[str, str]]:
    return [(code, say(word)) for code, word in jurisdictions()]


def _issuers() -> list[tuple[str, str]]:
    return [
        ("", say("None: counts are shown without a comparison")),
        *((one.key, f"{one.name}: {one.lacks}" if one.lacks else one.name) for one in issuer_levels()),
    ]


class ClubForm(PageForm):
    """The choices of a club."""

    name = OneLine(
        max_length=120, label=_("Name of the club"), error_messages={"required": _("Enter the club's name.")}
    )
    time_zone = TimeZone(label=_("Time zone"), help_text=_("New yards take their calendar day from it."))
    action_level_issuer = forms.ChoiceField(
        required=False,
        label=_("Whose action levels"),
        help_text=_(
            "Counts are compared with what this body published. Levels differ by body, season and method."
        ),
        choices=_issuers,
    )
    bees_per_half_cup = forms.IntegerField(
        label=_("Bees in half a US cup (118 mL)"),
        min_value=150,
        max_value=600,
        help_text=_(
            "Used where bees are measured by half cups and not counted; counts logged before keep their number. "
            "Published figures: 300 (club pages) and 400 (two extension services). Count a jar of your own once."
        ),
        error_messages={
            "required": _("Enter the number of bees, for example 300."),
            **dict.fromkeys(
                ("invalid", "min_value", "max_value"),
                _("Bees in half a US cup: enter a whole number from 150 to 600."),
            ),
        },
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    jurisdiction = forms.ChoiceField(
        label=_("Whose labels apply"),
        help_text=_(
            "Which ways of treating are offered first. The label of your product decides in any case."
        ),
        choices=_jurisdictions,
    )

    TAKEN = _("Another club here has this name. Choose another.")
    refusals: ClassVar = {ValidationError: ("name", TAKEN), IntegrityError: ("name", TAKEN)}

    def __init__(self, *args: Any, club: Club, **kwargs: Any) -> None:
        super().__init__(*args, initial={name: getattr(club, name) for name in FIELDS}, **kwargs)
        self.club = club
        # A choice that has since left the tables stays until somebody changes it.
        for name in ("action_level_issuer", "jurisdiction"):
            kept, field = getattr(club, name), self.fields[name]
            if kept not in dict(field.choices):
                field.choices = [*field.choices, (kept, kept)]

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if Club.objects.filter(name=name).exclude(pk=self.club.pk).exists():
            raise ValidationError(self.TAKEN)
        return name


class VisitRuleForm(PageForm):
    """How many colonies inspectors open in a yard."""

    rule = forms.ChoiceField(
        required=False,
        label=_("How many colonies inspectors open"),
        help_text=_("Published rules, or numbers of your own below. Your country's law comes first."),
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": _("Choose one of these.")},
    )
    share_percent = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=100,
        label=_("Own rule: of 100 colonies"),
        error_messages=dict.fromkeys(
            ("invalid", "min_value", "max_value"), _("Of 100 colonies: enter a whole number from 1 to 100.")
        ),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    at_least = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=1000,
        label=_("Own rule: at least, and all where there are fewer"),
        error_messages=dict.fromkeys(
            ("invalid", "min_value", "max_value"), _("At least: enter a whole number from 0 to 1000.")
        ),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, club: Club, **kwargs: Any) -> None:
        numbers = {"share_percent": club.visit_share_percent, "at_least": club.visit_at_least}
        super().__init__(*args, initial={"rule": club.visit_rule, **numbers}, **kwargs)
        self.fields["rule"].choices = [
            ("", say("Every colony: no rule chosen")),
            *((one.key, say(one.name)) for one in written_rules()),
            (OWN, say("Numbers of our own")),
        ]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        own = cleaned.get("rule") == OWN
        for name in ("share_percent", "at_least"):
            if cleaned.get(name) is not None or name in self.errors:
                continue
            if own:
                self.add_error(name, self.fields[name].error_messages["invalid"])
            cleaned[name] = self.initial[name]
        return cleaned


class RegionForm(PageForm):
    """A new region, or another name for one."""

    name = OneLine(
        max_length=80,
        label=_("Name of the region"),
        help_text=_("Coarse enough that nobody is found by it: a valley, a district, a side of town."),
        error_messages={"required": _("Enter a name for the region.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    TAKEN = _("The club has a region with this name already.")
    refusals: ClassVar = {ValidationError: ("name", TAKEN), IntegrityError: ("name", TAKEN)}

    def __init__(self, *args: Any, club: Club, region: Region | None = None, **kwargs: Any) -> None:
        super().__init__(*args, initial={"name": region.name} if region else {}, **kwargs)
        self.club, self.region = club, region

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = self.club.regions.exclude(pk=self.region.pk) if self.region else self.club.regions.all()
        if others.filter(name__iexact=name).exists():
            raise ValidationError(self.TAKEN)
        return name
