"""A visit as it is typed at the gate: one form whose boxes, as typed, are all that a phone has to keep and send.

The boxes are a flat table of names and texts (`visit_typed.flat`), which is JSON as it stands; `entry_key` is in it.
Page, phone and correction read them by this form, and so refuse and ask in the same words.
"""

import datetime as dt
import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from apiaries.actions.visits import VisitKeyReused, VisitNotPossible, VisitOver
from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Colony, Person, Present, Told, Yard
from apiaries.visit_facts import NewVisit
from apiaries.visit_reference import diseases, rule_of
from apiaries.visit_rules import colonies_to_open
from counts.actions import EntryKeyReused, NewCount, NotPossible
from counts.forms import remembered
from counts.forms.fields import Whole
from counts.planning import in_fair_order
from counts.visit_actions import NotOfThisVisit
from reports.visit_counts import VisitCountForm
from reports.visit_rows import ORDERS, SAMPLES, FindingForm, LabSampleForm, OrderForm, PartForm, stripped
from reports.visit_there import all_there
from reports.visit_typed import anchor_of, of_yard

MOST_COLONIES = 5_000
FARTHEST = dt.timedelta(days=3 * 366)
SAVED_BEFORE = _(
    "This form was saved before, with other words or numbers. Open the report and choose Correct to change it."
)


class VisitForm(PageForm):
    """What is said of the visit as a whole; `findings`, `orders`, `lab_samples` and `counting` are its rows.

    With `checks=False` it only shows again what was typed. After `is_valid`, `new` and `counts` are what to keep.
    """

    entry_key = forms.UUIDField(widget=forms.HiddenInput)
    rows = forms.CharField(required=False, widget=forms.HiddenInput)
    draw = forms.IntegerField(min_value=0, max_value=9999, widget=forms.HiddenInput)
    drawn_on = forms.DateField(widget=forms.HiddenInput)
    visited_on = TypedDate(label=_("Day of the visit"))
    present = forms.ChoiceField(
        label=_("Who was there?"),
        choices=[(one.value, capfirst(one.label)) for one in Present],
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(("required", "invalid_choice"), _("Say who was there.")),
    )
    present_who = OneLine(label=_("Name of who was there, if not the keeper"), required=False, max_length=120)
    told = forms.ChoiceField(
        label=_("When was notice given?"),
        choices=[(one.value, capfirst(one.label)) for one in Told],
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(("required", "invalid_choice"), _("Say when notice was given.")),
    )
    land_owner = OneLine(
        label=_("Owner of the land"),
        required=False,
        max_length=200,
        help_text=_("If the keeper is not the owner, or nobody knows who keeps the hives."),
    )
    colonies_present = Whole(
        label=_("Colonies present"),
        wrong=_("Enter how many colonies stand in the yard, 0 if none."),
        largest=MOST_COLONIES,
        help_text=_("Counted at the gate, also those that are not on the list."),
    )
    colonies_opened = Whole(
        label=_("Colonies opened"),
        wrong=_("Enter how many colonies you opened, as a whole number."),
        largest=MOST_COLONIES,
        required=False,
        help_text=_("Leave empty if it is the number ticked below."),
    )
    disease = forms.ChoiceField(
        label=_("Suspected in the yard as a whole"),
        required=False,
        error_messages={"invalid_choice": _("Choose from the list what is suspected.")},
    )
    disease_seen = OneLine(label=_("What you saw of it"), required=False, max_length=500)
    weather = OneLine(label=_("Weather"), required=False, max_length=200)
    remarks = forms.CharField(
        label=_("Remarks, damage"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    recommendations = forms.CharField(
        label=_("Recommendations"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_("Advice. What the keeper has to do stands below as an order."),
    )
    follow_up_on = TypedDate(
        label=_("Follow-up visit due on"), required=False, future=True, help_text=_("Empty: none is due.")
    )

    refusals: ClassVar = {
        VisitKeyReused: (None, SAVED_BEFORE),
        EntryKeyReused: (None, SAVED_BEFORE),
        VisitOver: (
            None,
            _("This visit was made, cancelled, voided or corrected since you opened this page."),
        ),
        NotOfThisVisit: (
            "visited_on",
            _("Counts were made on the day of this visit. Correct or void them first."),
        ),
        VisitNotPossible: (None, _("This cannot have been so. Look at the days and at the colonies.")),
        NotPossible: (None, _("One of the counts cannot be. Look at its mites, its bees and the day.")),
    }

    def __init__(
        self,
        typed: Mapping[str, str] | None,
        *,
        yard: Yard,
        person: Person,
        today: dt.date,
        colonies: Sequence[Colony],
        start: Mapping[str, Any],
        checks: bool = True,
        with_counts: bool = True,
    ) -> None:
        bound = typed if typed is not None and checks else None
        usual = {"entry_key": uuid.uuid4(), "visited_on": today, "draw": 0, "drawn_on": today}
        super().__init__(bound, initial=usual | dict(start) | dict(typed or {}))
        self.yard, self.person, self.today, self.checks = yard, person, today, checks
        self.rule = rule_of(yard.club)
        self.known = diseases(yard.club)
        self.colonies = list(colonies)
        self.fields["visited_on"].today = today
        self.fields["follow_up_on"].today = today
        self.fields["follow_up_on"].latest = today + FARTHEST
        self.fields["follow_up_on"].latest_words = say(
            "This is more than three years ahead. Look at the year again."
        )
        self.fields["disease"].choices = [
            ("", say("Nothing suspected")),
            *((one.key, one.label) for one in self.known),
        ]
        shown: Mapping[str, Any] = typed if typed is not None else start
        self.findings = [
            self._row(FindingForm, bound, shown, f"f{one.pk}", colony=one, diseases=self.known)
            for one in self.colonies
        ]
        self.orders = [
            self._row(OrderForm, bound, shown, f"o{n}", number=n, today=today) for n in range(1, ORDERS + 1)
        ]
        self.lab_samples = [
            self._row(LabSampleForm, bound, shown, f"l{n}", number=n) for n in range(1, SAMPLES + 1)
        ]
        self.counting = (
            VisitCountForm(
                typed,
                colonies=self.colonies,
                checks=checks,
                yard=yard,
                person=person,
                today=today,
                initial=remembered(yard),
            )
            if with_counts
            else None
        )
        self.strangers: Sequence[int] = ()
        self.named: frozenset[int] = frozenset()
        self.new: NewVisit

    @staticmethod
    def _row(
        kind: Callable[..., Any],
        bound: Mapping[str, str] | None,
        shown: Mapping[str, Any],
        prefix: str,
        **given: Any,
    ) -> Any:
        return kind(bound, initial=stripped(shown, prefix), **given)

    @property
    def parts(self) -> list[PartForm]:
        """All rows but those of counts."""
        return [*self.findings, *self.orders, *self.lab_samples]

    @property
    def colony_rows(self) -> list[tuple[FindingForm, Any]]:
        """Each colony with its row of counts, None where counts are no part of the form."""
        counted = self.counting.rows if self.counting is not None else [None] * len(self.findings)
        return list(zip(self.findings, counted, strict=True))

    @property
    def counts(self) -> list[NewCount]:
        """The counts as typed; none where all boxes are empty."""
        return self.counting.counts if self.counting is not None else []

    def is_valid(self) -> bool:
        """Whether all is filled in that must be; what there is to ask is no mistake (`asks`)."""
        good = [super().is_valid(), *(part.is_valid() for part in self.parts)]
        if self.counting is not None:
            self.counting.is_valid()
            good.append(not self.counting.errors and not self.counting.rows.total_error_count)
        good.append(all_there(self))
        if not all(good):
            return False
        if not self._whole():
            return False
        self.new = self._visit()
        return True

    @property
    def asks(self) -> bool:
        """Whether something is odd about a count, and not answered yet."""
        return self.counting is not None and self.counting.asks

    @property
    def problems(self) -> list[tuple[str, str]]:
        """(where, what) of everything to mend, in the order of the page; where is empty for what has no box."""
        found: list[tuple[str, str]] = [("", str(words)) for words in self.non_field_errors()]
        for form in (self, *self.parts, *self._count_forms()):
            name = getattr(form, "row_name", "")
            for field in form:
                if form is self.counting and field.name in ("sampled_on", "entry_key"):
                    continue  # said at the visit's own
                for words in field.errors:
                    found.append((anchor_of(field), f"{name}: {words}" if name else str(words)))
        if self.counting is not None:
            found += [("", str(words)) for words in self.counting.non_field_errors()]
        return found

    def _count_forms(self) -> list[Any]:
        return [self.counting, *self.counting.rows] if self.counting is not None else []

    def _whole(self) -> bool:
        """What takes several boxes to see."""
        cleaned = self.cleaned_data
        if cleaned["present"] == Present.OTHER and not cleaned["present_who"]:
            self.add_error("present_who", say("Enter the name of who was there."))
        if cleaned["follow_up_on"] and cleaned["follow_up_on"] < cleaned["visited_on"]:
            self.add_error("follow_up_on", say("This is before the day of the visit."))
        if cleaned["disease_seen"] and not cleaned["disease"]:
            self.add_error("disease", say("Choose what is suspected, or empty the box below."))
        ticked = sum(1 for one in self.findings if one.finding is not None)
        if self.opened < ticked:
            self.add_error(
                "colonies_opened", say("Below {n} colonies are ticked or have findings.", n=ticked)
            )
        elif self.opened > cleaned["colonies_present"]:
            self.add_error("colonies_present", say("Fewer colonies are present than were opened."))
        return not self.errors

    @property
    def opened(self) -> int:
        """Colonies opened: as typed, else as many as have findings or a tick."""
        typed = self.cleaned_data["colonies_opened"]
        return typed if typed is not None else sum(1 for one in self.findings if one.finding is not None)

    def _visit(self) -> NewVisit:
        cleaned = self.cleaned_data
        to_open = colonies_to_open(self.rule, cleaned["colonies_present"])
        order = in_fair_order(self.yard, on=cleaned["drawn_on"], draw=cleaned["draw"])
        duties = {one.key: one.duty for one in self.known}
        suspected = [one.suspicion for one in self.findings if one.suspicion is not None]
        return NewVisit(
            yard=self.yard,
            visited_on=cleaned["visited_on"],
            present=Present(cleaned["present"]),
            present_who=cleaned["present_who"],
            told=Told(cleaned["told"]),
            land_owner=cleaned["land_owner"],
            colonies_present=cleaned["colonies_present"],
            colonies_to_open=to_open,
            colonies_opened=self.opened,
            rule=self.rule.key,
            draw=cleaned["draw"],
            drawn_on=cleaned["drawn_on"],
            drawn=tuple(one.pk for one in order[:to_open]),
            weather=cleaned["weather"],
            remarks=cleaned["remarks"],
            recommendations=cleaned["recommendations"],
            follow_up_on=cleaned["follow_up_on"],
            findings=tuple(one.finding for one in self.findings if one.finding is not None),
            suspicions=(*of_yard(cleaned, duties), *suspected),
            lab_samples=tuple(one.sample for one in self.lab_samples if one.sample is not None),
            orders=tuple(one.order for one in self.orders if one.order is not None),
            entry_key=cleaned["entry_key"],
        )
