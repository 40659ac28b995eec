"""The list of yards somebody may see beside their own: what is known of each, most to look at first."""

from collections.abc import Callable, Iterable, Sequence

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine
from apiaries.language import say
from apiaries.models import Person, Region
from apiaries.panels import Panel
from apiaries.presenters import yards_seen
from apiaries.views.asking import today_in
from reports.known_yards import STALE_DAYS, KnownYard, known_yards, to_look_at, with_treatments

ALL, ABOVE, LATE, STALE = "", "above", "late", "stale"
SHOWN: dict[str, Callable[[KnownYard], bool]] = {
    ABOVE: lambda row: row.is_above,
    LATE: lambda row: row.is_late,
    STALE: lambda row: row.is_stale,
}


class SeenYardsForm(forms.Form):
    """Which of the yards; what cannot be read is said, and leaves all of them."""

    show = forms.ChoiceField(
        label=_("Show"), required=False, error_messages={"invalid_choice": _("Choose one of the list.")}
    )
    region = forms.ChoiceField(
        label=_("Region"),
        required=False,
        error_messages={"invalid_choice": _("Choose a region of the list.")},
    )
    name = OneLine(
        label=_("Yard or keeper"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    def __init__(self, asked: QueryDict, *, regions: Iterable[Region]) -> None:
        super().__init__({name: asked.get(name, "") for name in self.base_fields})
        shown = self.fields["show"]
        if isinstance(shown, forms.ChoiceField):
            shown.choices = [
                (ALL, say("All")),
                (ABOVE, say("Above the action level")),
                (LATE, say("Recount late")),
                (STALE, say("Not counted for {days} days", days=STALE_DAYS)),
            ]
        listed = {str(one.pk): one.name for one in regions}
        chosen = self.fields["region"]
        if isinstance(chosen, forms.ChoiceField):
            chosen.choices = [("", say("All regions")), *listed.items()]
        if len(listed) < 2:
            del self.fields["region"]

    @property
    def asks(self) -> bool:
        """Whether anything was chosen."""
        return any(self.data.get(name) for name in self.fields)

    def chosen(self, rows: Iterable[KnownYard]) -> list[KnownYard]:
        """Those that were asked for."""
        self.is_valid()
        clean = self.cleaned_data
        fits, region = SHOWN.get(clean.get("show", ""), bool), clean.get("region", "")
        words = clean.get("name", "").casefold()
        return [
            row
            for row in rows
            if fits(row)
            and region in ("", str(row.yard.region_id))
            and words in f"{row.yard.name} {row.yard.keeper.name}".casefold()
        ]


def seen_rows(person: Person) -> list[KnownYard]:
    """All of these yards, most to look at first. A constant number of queries."""
    on = today_in(person)
    return sorted(with_treatments(known_yards(person, yards_seen(person), on), on), key=to_look_at)


def seen_yards(person: Person, asked: QueryDict) -> Panel | None:
    """The part of the page of yards; nothing for who sees no other yard."""
    rows = seen_rows(person)
    if not rows:
        return None
    form = SeenYardsForm(asked, regions=_regions(rows))
    chosen = form.chosen(rows)
    context = {"form": form, "rows": chosen, "total": len(rows), "stale_days": STALE_DAYS}
    return Panel("reports/_seen_yards.html", 10, context)


def _regions(rows: Sequence[KnownYard]) -> list[Region]:
    by_key = {row.yard.region_id: row.yard.region for row in rows}
    return sorted(by_key.values(), key=lambda one: (one.name, one.pk))
