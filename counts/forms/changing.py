"""Restoring a count that was voided."""

from typing import ClassVar

from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine
from apiaries.forms.base import PageForm
from counts.actions import ChangedSince
from counts.change_actions import NotVoided, Replaced
from counts.forms.sample import CHANGED_NOW


class RestoreForm(PageForm):
    """Why a voided count counts after all."""

    why = OneLine(
        label=_("Why does it count again?"),
        max_length=200,
        help_text=_("For example: it was the other jar that was spilt."),
        error_messages={
            "required": _("Say why it counts again, for example: it was the other jar that was spilt.")
        },
    )

    refusals: ClassVar = {
        ChangedSince: (None, CHANGED_NOW),
        NotVoided: (None, _("This count was restored at this very moment. Look at it first.")),
        Replaced: (None, _("Another count stands in its place. Void that one first, then restore this.")),
    }
