"""Why a yard is not counted this time."""

from typing import ClassVar

from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine
from apiaries.forms.base import PageForm
from counts.week_actions import AlreadyLeftOut


class LeaveOutForm(PageForm):
    """A reason, which stays with the yard."""

    why = OneLine(
        label=_("Why is there no count this time?"),
        max_length=200,
        help_text=_("For example: too cold to open hives, the colonies are being moved."),
        error_messages={"required": _("Say why, for example: too cold to open hives.")},
    )

    refusals: ClassVar = {
        AlreadyLeftOut: (None, _("Somebody left out this count at this very moment. Nothing was changed.")),
    }
