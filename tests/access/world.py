"""One of everything that an address can point at, all of it Alice's, made through the real actions."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from apiaries.actions import invite, requeen_colony
from apiaries.actions.sign_ins import note_sign_in
from apiaries.actions.tokens import make_token
from apiaries.actions.visits import plan_visits
from apiaries.models import AccessToken, ColonyChange, DeviceKind, Invitation, SignIn, Visit, YardHelper
from apiaries.permissions import Role
from counts.actions import NewCount, record_sample
from counts.models import CountWeek, ImportBatch, MiteSample
from counts.samples import BeesBy, Method
from counts.visit_actions import keep_visit
from counts.week_actions import set_count_week
from reports.actions import make_calendar_feed, open_public_page
from reports.bulletin_actions import issue_bulletin, make_bulletin, mark_of
from reports.models import Bulletin, CalendarFeed, Digest, DigestState, Publication, PublicPage
from reports.planner import plan_notices
from tests.cast import Cast
from tests.counts.importing import MIXED, sheet_of
from tests.visiting import a_count, a_visit
from treatments.actions import NewDose, NewRound, NewTreatment, record_treatment
from treatments.day_actions import NewHive, NewSheet, plan_day
from treatments.device_actions import add_device
from treatments.medicine_actions import NewDisposal, NewPurchase, record_disposal, record_purchase
from treatments.models import Application, Device, MedicineDisposal, MedicinePurchase, Treatment

AT = dt.datetime(2026, 8, 12, 10, tzinfo=dt.UTC)
DAY = dt.date(2026, 8, 12)


@dataclass
class World:
    """What the addresses of the table are filled with."""

    cast: Cast
    sample: MiteSample
    bobs_sample: MiteSample
    treatment: Treatment
    planned: Treatment
    device: Device
    calendar: CalendarFeed
    calendar_word: str
    helper: YardHelper
    change: ColonyChange
    invitation: Invitation
    purchase: MedicinePurchase
    disposal: MedicineDisposal
    mail: Digest
    week: CountWeek
    sheet: ImportBatch
    public: PublicPage
    draft: Bulletin
    issued: Bulletin
    token: AccessToken
    sign_in: SignIn
    visit: Visit
    planned_visit: Visit
    silent_visit: Visit

    def arguments(self, words: str) -> dict[str, Any]:
        """The arguments of an address from the short word in the table."""
        cast = self.cast
        return {
            "": {},
            "yard": {"pk": cast.alice_yard.pk},
            "yard and way": {"pk": cast.alice_yard.pk, "way": "formic_gel_strip_us"},
            "past of the yard": {"kind": "yard", "pk": cast.alice_yard.pk},
            "past of the colony": {"kind": "colony", "pk": cast.colony.pk},
            "past of charlie": {"kind": "membership", "pk": cast.charlie.memberships.get().pk},
            "past of the club": {"kind": "club", "pk": cast.club.pk},
            "past of north": {"kind": "region", "pk": cast.north.pk},
            "past of the count": {"kind": "count", "pk": self.sample.pk},
            "past of the week": {"kind": "week", "pk": self.week.pk},
            "past of a treatment": {"kind": "treatment", "pk": self.treatment.pk},
            "past of a round": {"kind": "round", "pk": self.planned.rounds.get(number=1).pk},
            "past of a dose": {"kind": "dose", "pk": self.treatment.rounds.get(number=1).doses.first().pk},
            "past of a recount": {"kind": "recount", "pk": self.treatment.recount.pk},
            "past of a purchase": {"kind": "purchase", "pk": self.purchase.pk},
            "past of a disposal": {"kind": "disposal", "pk": self.disposal.pk},
            "past of a heater": {"kind": "device", "pk": self.device.pk},
            "past of nothing": {"kind": "nothing", "pk": cast.alice_yard.pk},
            "helper": {"pk": cast.alice_yard.pk, "helper_pk": self.helper.pk},
            "colony": {"pk": cast.colony.pk},
            "change": {"pk": self.change.pk},
            "label": {"code": cast.colony.label_code},
            "no such label": {"code": "22222222"},
            "charlies membership": {"pk": cast.charlie.memberships.get().pk},
            "invitation": {"pk": self.invitation.pk},
            "north": {"pk": self.cast.north.pk},
            "invitation's word": {"token": self.invitation.token},
            "sample": {"pk": self.sample.pk},
            "bob's sample": {"pk": self.bobs_sample.pk},
            "treatment": {"pk": self.treatment.pk},
            "round to give": {"pk": self.treatment.pk, "number": 2},
            "round with a sheet": {"pk": self.planned.pk, "number": 1},
            "round in the hive": {"pk": self.treatment.pk, "number": 1},
            "keeper": {"pk": cast.alice.pk},
            "purchase": {"pk": self.purchase.pk},
            "disposal": {"pk": self.disposal.pk},
            "calendar": {"pk": self.calendar.pk},
            "calendar's word": {"token": self.calendar_word},
            "heater": {"pk": self.device.pk},
            "mail": {"pk": self.mail.pk},
            "public page": {"word": self.public.word},
            "no such page": {"word": "nonsense"},
            "recount": {"pk": self.treatment.recount.pk},
            "count week": {"pk": self.week.pk},
            "sheet": {"pk": self.sheet.pk},
            "draft": {"pk": self.draft.pk},
            "issued bulletin": {"pk": self.issued.pk},
            "visit": {"pk": self.visit.pk},
            "planned visit": {"pk": self.planned_visit.pk},
            "silent visit": {"pk": self.silent_visit.pk},
            "order": {"pk": self.visit.orders.get().pk},
            "lab sample": {"pk": self.visit.lab_samples.get().pk},
            "visit's sample": {"pk": self.visit.samples.get().pk},
            "wrong word": {"token": "nonsense"},
            "no such address": {"rest": "v1/honey/"},
            "words of scripts": {"language": "de", "version": "earlier"},
            "no such language": {"language": "tlh", "version": "earlier"},
            "token": {"pk": self.token.pk},
            "sign-in": {"pk": self.sign_in.pk},
            "reset key": {"uidb36": "1", "key": "set-password"},
        }[words]


def make_world(cast: Cast) -> World:
    """A count by Alice, one by Bob, strips in the hive with a second round planned, an open invitation."""

    def count(by: Any, colony: int) -> MiteSample:
        new = NewCount(cast.colonies[colony], Method.ALCOHOL_WASH, DAY, 9, bees=300, bees_by=BeesBy.VOLUME)
        return record_sample(count=new, at=AT, by=by)

    application = Application.objects.get(key="formic_gel_strip_us")
    doses = tuple(NewDose(colony, application.dose_amount) for colony in cast.colonies)
    treatment = record_treatment(
        new=NewTreatment(
            yard=cast.alice_yard,
            application=application,
            rounds=(
                NewRound(planned_on=DAY, given_on=DAY, doses=doses),
                NewRound(planned_on=DAY + dt.timedelta(days=40)),
            ),
        ),
        at=AT,
        by=cast.alice,
    )
    sheet = NewSheet(
        starts_at=dt.time(9),
        hives=tuple(NewHive(colony=colony, amount=Decimal(2)) for colony in cast.colonies),
        wait_minutes=Decimal(5),
        sealed_minutes=Decimal(15),
    )
    planned = plan_day(
        new=NewTreatment(
            yard=cast.alice_yard,
            application=Application.objects.get(key="oxalic_vapour_us"),
            rounds=(NewRound(planned_on=DAY + dt.timedelta(days=60)),),
        ),
        sheet=sheet,
        at=AT,
        by=cast.alice,
    )
    visit = keep_visit(
        new=a_visit(cast, visited_on=DAY),
        counts=[a_count(cast.colonies[2], DAY)],
        planned=None,
        at=AT,
        by=cast.ines,
    )
    planned_visits = [
        plan_visits(
            yards=[cast.alice_yard],
            on=DAY + dt.timedelta(days=days),
            inspector=cast.ines,
            announced=days == 5,
            at=AT,
            by=cast.ines,
        )[0]
        for days in (5, 6)
    ]
    now = dt.datetime.now(dt.UTC)
    word = make_calendar_feed(person=cast.alice, yard=None, at=AT, by=cast.alice)
    # What is owed by now was told, so that the health page has nothing to complain of.
    plan_notices(at=dt.datetime.now(dt.UTC))
    Digest.objects.update(state=DigestState.EMPTY)
    return World(
        cast=cast,
        mail=Digest.objects.create(
            person=cast.alice,
            on=DAY,
            send_at=AT,
            next_at=AT,
            useless_after=AT,
            state=DigestState.DEAD,
            message_id="<mail>",
        ),
        sample=count(cast.alice, 0),
        bobs_sample=count(cast.bob, 1),
        treatment=treatment,
        planned=planned,
        calendar=CalendarFeed.objects.get(),
        calendar_word=word,
        device=add_device(keeper=cast.alice, facts={"name": "pan"}, at=AT, by=cast.alice),
        helper=cast.alice_yard.helpers.get(),
        change=requeen_colony(colony=cast.colony, requeened_on=DAY, by=cast.alice),
        invitation=invite(
            club=cast.club,
            email="new@example.org",
            role=Role.MEMBER,
            at=now,
            by=cast.dana,
        ),
        purchase=record_purchase(
            keeper=cast.alice,
            new=NewPurchase(product="strips", bought_on=DAY, quantity=Decimal(10), unit="strips"),
            at=AT,
            by=cast.alice,
        ),
        disposal=record_disposal(
            keeper=cast.alice,
            new=NewDisposal(product="strips", disposed_on=DAY, quantity=Decimal(2), unit="strips"),
            at=AT,
            by=cast.alice,
        ),
        sheet=sheet_of(cast.alice, MIXED),
        public=open_public_page(club=cast.club, at=AT, by=cast.adam),
        week=set_count_week(
            club=cast.club,
            first_on=now.date(),
            last_on=now.date() + dt.timedelta(days=6),
            at=now,
            by=cast.dana,
        ),
        draft=_bulletin(cast, dt.date(2026, 8, 1)),
        token=make_token(
            person=cast.alice, name="scale", scopes=["yards:read"], days=30, at=now, by=cast.alice
        )[0],
        sign_in=note_sign_in(person=cast.alice, session_key="elsewhere", device=DeviceKind.PHONE, at=now),
        issued=_issued(_bulletin(cast, dt.date(2026, 7, 1)), cast),
        visit=visit,
        planned_visit=planned_visits[0],
        silent_visit=planned_visits[1],
    )


def _bulletin(cast: Cast, month: dt.date) -> Bulletin:
    """Of a month that was published with nothing in it."""
    Publication.objects.create(club=cast.club, month=month, published_at=AT)
    return make_bulletin(club=cast.club, month=month, at=AT, by=None)


def _issued(bulletin: Bulletin, cast: Cast) -> Bulletin:
    return issue_bulletin(bulletin=bulletin, seen=mark_of(bulletin), at=AT, by=cast.dana)
