"""What a page shows of one visit: the same whether it is still to be checked or was kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.text import capfirst

from apiaries.language import say, say_many
from apiaries.models import Club, Colony, LabSample, Person, Present, Visit, VisitOrder
from apiaries.reference import cautions
from apiaries.visit_facts import NewVisit, as_new
from apiaries.visit_reference import NOTIFIABLE, Disease, disease_of, has_list, rule_name, rule_source
from apiaries.visit_words import BY_NAME, code_words
from counts.models import MiteSample
from counts.presenters import CountRow, rows_of, with_all


@dataclass(frozen=True, slots=True)
class SeenColony:
    """One colony: what was looked at, (aspect, words, whether out of the ordinary), and the remark."""

    name: str
    seen: Sequence[tuple[str, str, bool]]
    remark: str


@dataclass(frozen=True, slots=True)
class Suspected:
    """A suspicion, and what is to be done about it."""

    disease: Disease
    colony: str
    seen: str
    urgent: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """The visit in words."""

    new: NewVisit
    present: str
    told: str
    rule: str
    rule_source: str
    to_open: str
    drawn: Sequence[str]
    colonies: Sequence[SeenColony]
    suspected: Sequence[Suspected]
    suspicion_cautions: Sequence[str]
    has_list: bool

    @property
    def short_of_rule(self) -> int:
        """How many colonies fewer than the rule asks for were opened; 0 where it was followed."""
        return max(0, self.new.colonies_to_open - self.new.colonies_opened)


def sheet_of(new: NewVisit) -> Sheet:
    """The words of a visit, kept or still to be checked."""
    club = new.yard.club
    names = {one.pk: one.name for one in Colony.objects.filter(pk__in=new.drawn)}
    suspected = [
        Suspected(
            disease_of(club, one.disease),
            one.colony.name if one.colony else "",
            one.seen,
            urgent=one.duty == NOTIFIABLE,
        )
        for one in new.suspicions
    ]
    return Sheet(
        new=new,
        present=_present(new),
        told=capfirst(str(new.told.label)),
        rule=rule_name(new.rule),
        rule_source=rule_source(new.rule),
        to_open=say_many("{n} colony", "{n} colonies", new.colonies_to_open),
        drawn=[names[key] for key in new.drawn if key in names],
        colonies=[
            SeenColony(
                one.colony.name,
                [
                    (say(BY_NAME[name].heading), code_words(name, code), code not in BY_NAME[name].usual)
                    for name, code in one.codes.items()
                    if code
                ],
                one.remark,
            )
            for one in new.findings
        ],
        suspected=suspected,
        suspicion_cautions=suspicion_cautions() if suspected else (),
        has_list=has_list(club),
    )


def told_of(known: Sequence[Disease], club: Club) -> dict[str, Any]:
    """What a page says of each disease once it is chosen, so that it can be said without a network."""
    return {
        "suspected": [Suspected(one, "", "", urgent=one.duty == NOTIFIABLE) for one in known],
        "suspicion_cautions": suspicion_cautions(),
        "has_list": has_list(club),
    }


def suspicion_cautions() -> list[str]:
    """What to do while something is suspected, each with its mark."""
    rows = [row for row in cautions() if row["where"] == "suspicion"]
    return [f"{row['sentence']} ({row['mark']})" for row in rows]


def _present(new: NewVisit) -> str:
    words = capfirst(str(new.present.label))
    if new.present is Present.KEEPER:
        return f"{words} ({new.yard.keeper.name})"
    return f"{words}: {new.present_who}" if new.present_who else words


@dataclass(frozen=True, slots=True)
class VisitPage:
    """A kept visit: its sheet, the counts made at it, what is still open, and what its reader may do."""

    visit: Visit
    sheet: Sheet
    counts: Sequence[CountRow]
    orders: Sequence[VisitOrder]
    lab_samples: Sequence[LabSample]
    newer: Visit | None
    may_edit: bool
    may_follow_up: bool


def visit_page(visit: Visit, person: Person) -> VisitPage:
    """A visit that was made, for this reader."""
    samples = MiteSample.objects.visible_to(person).filter(visit=visit)
    stands = visit.voided_at is None
    inspects = Visit.objects.inspected_by(person).filter(pk=visit.pk).exists()
    return VisitPage(
        visit=visit,
        sheet=sheet_of(as_new(visit)),
        counts=rows_of(with_all(samples).order_by("colony__number", "colony__name", "pk")),
        orders=list(visit.orders.select_related("done_by")),
        lab_samples=list(visit.lab_samples.select_related("result_by")),
        newer=Visit.objects.visible_to(person).filter(corrects=visit).first(),
        may_edit=stands and Visit.objects.editable_by(person).filter(pk=visit.pk).exists(),
        may_follow_up=stands and inspects,
    )
