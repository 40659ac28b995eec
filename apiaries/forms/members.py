"""Whom to invite and as what, and what becomes of a member's role."""

from typing import Any, ClassVar

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from apiaries.actions import AlreadyMember, LastAdministrator, LeftMeanwhile, MayNotInvite, NeedsRegion
from apiaries.fields import OneLine
from apiaries.forms.base import PageForm
from apiaries.language import day_words, listed, say
from apiaries.models import Club, Membership, Region
from apiaries.permissions import ROLE_WORDS, Role, role_name, role_within, roles_invitable_by

NEEDS_REGION = _("Choose at least one region for an inspector.")
NO_REGIONS = _(
    "The club has no regions yet. Add one under Club first: an inspector sees the yards of regions."
)
ONLY_INSPECTORS = _("Only an inspector has regions. Untick these, or choose the role Inspector.")


def _choices(roles: tuple[Role, ...]) -> list[tuple[str, str]]:
    return [(role.value, f"{role_name(role)}. {say(ROLE_WORDS[role])}") for role in roles]


def _misfit(form: forms.Form, cleaned: dict[str, Any], club: Club) -> None:
    """Put an error beside regions without an inspector, and beside an inspector without regions."""
    if cleaned.get("role") == Role.INSPECTOR and not cleaned.get("regions") and "regions" not in form.errors:
        if "regions" in form.fields and club.regions.exists():
            form.add_error("regions", NEEDS_REGION)
        else:
            form.add_error("role", NO_REGIONS)
    elif cleaned.get("role") not in (None, Role.INSPECTOR) and cleaned.get("regions"):
        form.add_error("regions", ONLY_INSPECTORS)


class InvitationForm(PageForm):
    """Whom to invite, and as what."""

    email = forms.EmailField(
        max_length=254,
        label=_("E-mail"),
        help_text=_("The invitation goes there and is good for this address only, for 14 days."),
        error_messages={"required": _("Enter the e-mail address of the person you invite.")},
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    role = forms.ChoiceField(
        label=_("Role"),
        widget=forms.RadioSelect,
        initial=Role.MEMBER,
        error_messages={"required": _("Choose a role.")},
    )
    regions = forms.ModelMultipleChoiceField(
        Region.objects.none(),
        required=False,
        label=_("Regions"),
        help_text=_("For an inspector: where they see every yard."),
        widget=forms.CheckboxSelectMultiple,
    )
    replaces = forms.BooleanField(
        required=False,
        label=_("Replace the invitation that is open: its link stops working"),
        widget=forms.HiddenInput,
    )

    refusals: ClassVar = {
        AlreadyMember: (
            "email",
            _(
                "This person belongs to your club already. An administrator changes their role under Members, "
                "with “Change” in their row."
            ),
        ),
        MayNotInvite: ("role", _("You cannot invite somebody with this role.")),
    }

    def __init__(self, *args: Any, membership: Membership, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.club = membership.club
        roles = roles_invitable_by(membership.role)
        self.fields["role"].choices = _choices(roles)
        self.fields["regions"].queryset = membership.club.regions.all()
        if len(roles) == 1:
            self.fields["role"].widget = forms.HiddenInput()
        if Role.INSPECTOR not in roles or not membership.club.regions.exists():
            del self.fields["regions"]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        cleaned.setdefault("regions", [])
        _misfit(self, cleaned, self.club)
        self._ask_before_replacing(cleaned)
        return cleaned

    def _ask_before_replacing(self, cleaned: dict[str, Any]) -> None:
        """An open invitation to the same address is replaced only once that is said."""
        address = (cleaned.get("email") or "").lower()
        waiting = self.club.invitations.filter(
            email=address, accepted_at=None, withdrawn_at=None, expires_at__gt=timezone.now()
        ).first()
        if waiting is None:
            typed = QueryDict(mutable=True)
            typed.update(self.data)
            typed["replaces"] = ""  # a tick given for one address is not one for the next
            self.data = typed
            return
        self.fields["replaces"].widget = forms.CheckboxInput()
        if cleaned.get("replaces"):
            return
        regions = listed([region.name for region in waiting.regions.all()])
        values = {"email": address, "role": role_within(waiting.role), "day": day_words(waiting.expires_at)}
        self.add_error(
            "replaces",
            say(
                "{email} is invited already, as {role} of {regions}, until {day}. "
                "Tick here to replace that invitation, or send it again under Members.",
                regions=regions,
                **values,
            )
            if regions
            else say(
                "{email} is invited already, as {role}, until {day}. "
                "Tick here to replace that invitation, or send it again under Members.",
                **values,
            ),
        )


class MemberForm(PageForm):
    """A member's role, and an inspector's regions."""

    role = forms.ChoiceField(
        label=_("Role"),
        widget=forms.RadioSelect,
        choices=lambda: _choices(tuple(Role)),
        error_messages={"required": _("Choose a role."), "invalid_choice": _("Choose one of the roles.")},
    )
    regions = forms.ModelMultipleChoiceField(
        Region.objects.none(),
        required=False,
        label=_("Regions"),
        help_text=_(
            "An inspector sees every yard, count and treatment in these, and changes nothing. "
            "With another role these are given up."
        ),
        widget=forms.CheckboxSelectMultiple,
    )

    refusals: ClassVar = {
        LastAdministrator: (
            "role",
            _("The club needs an administrator. Make somebody else one first, then change this role."),
        ),
        LeftMeanwhile: (None, _("This person has left the club meanwhile.")),
        NeedsRegion: ("regions", NEEDS_REGION),
    }

    def __init__(self, *args: Any, membership: Membership, **kwargs: Any) -> None:
        self.membership = membership
        kept = {"role": membership.role, "regions": list(membership.regions.all())}
        super().__init__(*args, initial=kept, **kwargs)
        self.fields["regions"].queryset = membership.club.regions.all()
        if not membership.club.regions.exists():
            del self.fields["regions"]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        regions = set(cleaned.get("regions") or ())
        if cleaned.get("role") != Role.INSPECTOR and regions == set(self.initial["regions"]):
            cleaned["regions"] = regions = (
                set()
            )  # an inspector's, untouched: the page says that they are given up
        _misfit(self, cleaned, self.membership.club)
        return cleaned


class MemberSearchForm(forms.Form):
    """Members by a part of their name; what cannot be read is said, and leaves all of them."""

    name = OneLine(
        label=_("Name"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    @property
    def words(self) -> str:
        """What was typed; empty for all."""
        return self.cleaned_data.get("name", "") if self.is_valid() else ""
