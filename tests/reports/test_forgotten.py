"""Somebody is forgotten: after it no table, cache, session or file holds what they typed, but for locked records.

Every field that a person can fill gets a marker of its own, through the actions that pages use.
"""

import base64
import datetime as dt
import json
import re
import uuid
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.db import connection, transaction
from django.test import Client
from django.utils.translation import override

from apiaries.actions import (
    add_colonies,
    add_helper,
    add_yard,
    ask_to_leave,
    describe_colony,
    due_leavings,
    edit_yard,
    end_colony,
    forget_person,
    invite,
    look_once_more,
    requeen_colony,
    sign_up,
    split_colony,
    undo_change,
    unlooked,
    update_person,
)
from apiaries.actions.tokens import make_token
from apiaries.actions.visits import record_visit
from apiaries.api.scopes import Scope
from apiaries.forgetting import journal
from apiaries.mail import invitation_mail
from apiaries.models import (
    Brood,
    Club,
    Colony,
    How,
    Invitation,
    Person,
    Present,
    Told,
    Visit,
    Yard,
)
from apiaries.permissions import Role
from apiaries.visit_facts import NewLabSample, NewVisit
from counts.actions import NewCount, correct_sample, record_sample, void_sample
from counts.change_actions import restore_sample
from counts.models import ImportBatch, ImportRow, ImportState, ImportWork, MiteSample
from counts.samples import BeesBy, Method
from counts.week_actions import cancel_count_week, leave_out_count, set_count_week
from reports.actions import make_calendar_feed
from reports.bulletin_actions import (
    issue_bulletin,
    make_bulletin,
    mark_of,
    set_foreword,
    withdraw_bulletin,
)
from reports.figures import recompute_all, refresh_all_marked
from reports.models import (
    AreaMonth,
    Bulletin,
    Digest,
    DigestAttempt,
    MailOutage,
    Publication,
    RegionMonth,
    ReturnedFile,
    Suspension,
    YardMonth,
)
from reports.planner import plan_notices
from reports.publishing import publish_due
from tests.cast import Cast
from treatments.actions import (
    NewDose,
    NewRound,
    NewTreatment,
    cancel_treatment,
    record_treatment,
    skip_recount,
)
from treatments.day_actions import NewHive, NewSheet, mark_hive, plan_day
from treatments.device_actions import add_device
from treatments.locking import let_go
from treatments.medicine_actions import (
    NewDisposal,
    NewPurchase,
    RecordFields,
    complete_record,
    correct_purchase,
    record_disposal,
    record_purchase,
)
from treatments.models import Application, LockedEntry, Step

AT = dt.datetime(2026, 9, 30, 12, tzinfo=dt.UTC)
DAY = dt.date(2026, 8, 5)
LEFT = dt.datetime(2026, 10, 8, 12, tzinfo=dt.UTC)
EMAIL = "zqx00mail@example.org"
MARKER = "zqx[0-9]{2}"
"""Every marker; three letters alone stand in a hash or a token of chance now and then."""
NAME = "Zqx01first Zqx02last"
HERE = (Decimal("51.23457"), Decimal("9.87653"))
THERE = (Decimal("51.34568"), Decimal("9.76542"))
PLACES = r"51\.2345|9\.8765|51\.3456|9\.7654"


class Markers:
    """Words that stand nowhere else, one for each field."""

    def __init__(self) -> None:
        self.made = [EMAIL, NAME]

    def __call__(self, field: str) -> str:
        self.made.append(f"zqx{len(self.made) + 1:02}{field}")
        return self.made[-1]


def _jar(colony: Colony, on: dt.date, mites: int, note: str = "") -> NewCount:
    return NewCount(colony, Method.ALCOHOL_WASH, on, mites, bees=300, bees_by=BeesBy.COUNTED, note=note)


def _join(cast: Cast, markers: Markers) -> Person:
    """By invitation, then with another name and address than at first, which the history knows."""
    invitation = invite(
        club=cast.club, email="zqx03before@example.org", role=Role.MEMBER, at=AT, by=cast.dana
    )
    markers.made.append("zqx03before@example.org")
    person = sign_up(
        invitation=invitation,
        email="zqx03before@example.org",
        name=markers("name Zqxbefore"),
        password="smoke-and-bellows-8",
        at=AT,
    )
    EmailAddress.objects.create(user=person, email=EMAIL, primary=True, verified=True)
    Person.objects.filter(pk=person.pk).update(email=EMAIL)
    Authenticator.objects.create(
        user=person, type=Authenticator.Type.RECOVERY_CODES, data={"seed": markers("second step")}
    )
    person.refresh_from_db()
    return update_person(
        person=person,
        name=NAME,
        time_zone="Europe/Lisbon",
        language="de",
        mail_at=dt.time(8),
        wants_mail=True,
        wants_calls=True,
        wants_bulletins=True,
        quiet_days=[6],
        by=person,
    )


def _own_yard(cast: Cast, person: Person, markers: Markers) -> Yard:
    """Places that were changed, colonies with a past, counts with notes and reasons."""
    yard = add_yard(
        keeper=person, region=cast.north, name=markers("yard"), latitude=HERE[0], longitude=HERE[1], by=person
    )
    edit_yard(
        yard=yard,
        name=markers("yard renamed"),
        region=cast.north,
        latitude=THERE[0],
        longitude=THERE[1],
        by=person,
    )
    colonies = add_colonies(
        yard=yard,
        names=[markers("colony"), markers("other colony")],
        started_on=dt.date(2026, 4, 1),
        by=person,
    )
    describe_colony(
        colony=colonies[0],
        name=markers("colony renamed"),
        brood_boxes=1,
        supers_on=False,
        brood=Brood.NONE,
        brood_seen_on=DAY,
        by=person,
    )
    change = requeen_colony(colony=colonies[0], requeened_on=DAY, note=markers("requeened"), by=person)
    undo_change(change=change, why=markers("undone"), at=AT, by=person)
    split = split_colony(
        colony=colonies[0],
        to_yard=yard,
        name=markers("split"),
        split_on=DAY,
        note=markers("split note"),
        by=person,
    )
    end_colony(colony=split, ended_on=DAY, why=markers("ended"), by=person)
    add_helper(yard=yard, person=cast.bob, by=person)
    for colony in colonies:
        record_sample(count=_jar(colony, DAY, 4, markers("count note")), at=AT, by=person)
    record_sample(count=_jar(colonies[0], DAY, 3, markers("helper's note")), at=AT, by=cast.bob)
    wrong = record_sample(count=_jar(colonies[1], DAY, 200, markers("wrong count")), at=AT, by=person)
    right = correct_sample(
        sample=wrong, count=_jar(colonies[1], DAY, 2), why=markers("corrected"), at=AT, by=person
    )
    void_sample(sample=right, why=markers("voided"), at=AT, by=person)
    restore_sample(sample=right, why=markers("restored"), at=AT, by=person)
    leave_out_count(yard=yard, subject="count:2026-09", why=markers("left out"), at=AT, by=person)
    return yard


def _medicine(cast: Cast, person: Person, yard: Yard, markers: Markers) -> None:
    """Treatments, their record, the day's sheet, purchases and disposals."""
    colonies = list(yard.colonies.filter(ended_on=None))
    vapour = Application.objects.get(key="oxalic_vapour_us")
    doses = tuple(NewDose(colony, Decimal(9), why_above=markers("why above")) for colony in colonies)
    treatment = record_treatment(
        new=NewTreatment(
            yard=yard,
            application=vapour,
            rounds=(NewRound(planned_on=DAY, given_on=DAY, doses=doses),),
            product=markers("product"),
            withdrawal_days=0,
            note=markers("treatment note"),
        ),
        at=AT,
        by=person,
    )
    told = {
        name: markers(name)
        for name in ("batch", "registration", "supplier", "supplier_address", "proof", "vet", "given_by")
    }
    told["product"] = markers("other product")
    record = RecordFields(withdrawal_days=0, **told)
    complete_record(treatment=treatment, told=record, why=markers("why changed"), at=AT, by=person)
    skip_recount(recount=treatment.recount, why=markers("skipped"), at=AT, by=person)
    device = add_device(keeper=person, facts={"name": markers("heater")}, at=AT, by=person)
    later = AT.date() + dt.timedelta(days=20)
    planned = plan_day(
        new=NewTreatment(yard=yard, application=vapour, rounds=(NewRound(planned_on=later),)),
        sheet=NewSheet(
            starts_at=dt.time(9),
            hives=tuple(NewHive(colony=colony, amount=Decimal(2)) for colony in colonies),
            wait_minutes=Decimal(5),
            sealed_minutes=Decimal(15),
            device=device,
        ),
        at=AT,
        by=person,
    )
    mark_hive(
        hive=planned.rounds.get().sheet.hives.first(),
        step=Step.LEFT_OUT,
        ticked_at=AT,
        entry_key=uuid.uuid4(),
        remark=markers("remark"),
        at=AT,
        by=person,
    )
    cancel_treatment(treatment=planned, why=markers("cancelled"), at=AT, by=person)
    bought = NewPurchase(
        product=markers("bought"),
        bought_on=DAY,
        quantity=Decimal(1),
        unit="packs",
        batch=markers("bought batch"),
        supplier=markers("shop"),
        supplier_address=markers("shop's street"),
        proof=markers("invoice"),
        note=markers("purchase note"),
    )
    purchase = record_purchase(keeper=person, new=bought, at=AT, by=person)
    again = replace(bought, product=markers("bought, corrected"), entry_key=uuid.uuid4())
    correct_purchase(purchase=purchase, new=again, why=markers("why corrected"), at=AT, by=person)
    thrown = NewDisposal(
        product=markers("thrown away"),
        disposed_on=DAY,
        quantity=Decimal(1),
        unit="packs",
        how=markers("how"),
        place=markers("where"),
    )
    record_disposal(keeper=person, new=thrown, at=AT, by=person)


def _elsewhere(cast: Cast, person: Person, markers: Markers) -> None:
    """What they typed in others' yards, and what others wrote about them."""
    add_helper(yard=cast.alice_yard, person=person, by=cast.alice)
    helped = record_sample(count=_jar(cast.colony, DAY, 5, markers("note elsewhere")), at=AT, by=person)
    void_sample(sample=helped, why=markers("voided elsewhere"), at=AT, by=person)
    record_sample(
        count=_jar(cast.colony, DAY, 5, f"counted with {NAME.upper()}, write to {EMAIL}"),
        at=AT,
        by=cast.alice,
    )
    week = set_count_week(
        club=cast.club,
        first_on=dt.date(2026, 11, 1),
        last_on=dt.date(2026, 11, 7),
        at=AT,
        by=person,
    )
    cancel_count_week(week=week, why=markers("no count week"), at=AT, by=person)


def _visit(cast: Cast, yard: Yard, markers: Markers) -> None:
    """An inspector's report, in which the keeper is named."""
    visit = NewVisit(
        yard=yard,
        visited_on=DAY,
        present=Present.OTHER,
        present_who=markers("somebody there"),
        told=Told.NOT,
        land_owner=markers("owner of the land"),
        colonies_present=2,
        colonies_to_open=2,
        colonies_opened=0,
        rule="",
        remarks=f"{NAME} was away, to be reached at {EMAIL}",
        lab_samples=(NewLabSample(number="1", what="bees", results_to=markers("who is told")),),
    )
    record_visit(new=visit, planned=None, at=AT, by=cast.ines)


def _sheets(cast: Cast, person: Person, yard: Yard, markers: Markers) -> None:
    """Sheets of theirs, one of the club with a row of theirs, an export that came back, their name in another's."""
    for by, name in ((person, markers("sheet.csv")), (cast.dana, "club.csv")):
        batch = ImportBatch.objects.create(
            club=cast.club,
            by=by,
            at=AT,
            file_name=name,
            size=1,
            sha256="0",
            choices={"said": markers("said") if by == person else ""},
            taken_for={"headings": [markers("heading") if by == person else ""]},
            state=ImportState.LOOK,
        )
        ImportWork.objects.create(
            batch=batch, data=markers("bytes").encode() if by == person else NAME.encode()
        )
        cells = [NAME, None, markers("cell")]
        ImportRow.objects.create(batch=batch, number=2, status="look", cells=cells, yard=yard)
        ImportRow.objects.create(
            batch=batch, number=3, status="look", cells=[f'by "{NAME}", I think', None, "7"]
        )
    told = {"keeper": markers("came back")}
    ReturnedFile.objects.create(person=person, content=b"zqx98", sha256="0", told=told, sent_at=AT)
    Person.objects.create(
        name=NAME, email="nobody@nobody.invalid", known_to=cast.alice, is_active=False, password="!"
    )
    Person.objects.create(
        name=markers("known"), email="none@nobody.invalid", known_to=person, is_active=False, password="!"
    )


def _told(cast: Cast, person: Person, markers: Markers) -> None:
    """Mails, refusals of mail servers, a calendar, sessions, drawings in the cache."""
    plan_notices(at=dt.datetime(2026, 8, 20, 12, tzinfo=dt.UTC))
    digest = Digest.objects.create(
        person=person, on=DAY, send_at=AT, next_at=AT, useless_after=AT, message_id=f"<{markers('mail')}>"
    )
    DigestAttempt.objects.create(digest=digest, started_at=AT, detail=f"{EMAIL} {markers('refusal')}")
    Suspension.objects.create(person=person, email=EMAIL, why=markers("suspended"), since=AT)
    MailOutage.objects.create(
        since=AT, last_tried_at=AT, next_try_at=AT, tries=1, last_error=f"<{EMAIL}>: try later", ended_at=AT
    )
    make_calendar_feed(person=person, yard=None, at=AT, by=person)
    make_token(person=person, name=markers("token"), scopes=[Scope.YARDS_READ], days=30, at=AT, by=person)
    cache.set("drawing", f"<svg><title>{NAME}</title></svg>", 3600)
    with override("en-gb"):
        invitation_mail(Invitation.objects.get(accepted_by=person)).send()


def _bulletin(cast: Cast) -> None:
    """Issued, so that nothing of it can be changed in any other way, and withdrawn."""
    bulletin = make_bulletin(club=cast.club, month=DAY.replace(day=1), at=AT, by=cast.dana)
    thanks = f"Ask {NAME} ({EMAIL}) about it."
    bulletin = set_foreword(bulletin=bulletin, foreword=thanks, seen=mark_of(bulletin), at=AT, by=cast.dana)
    bulletin = issue_bulletin(bulletin=bulletin, seen=mark_of(bulletin), at=AT, by=cast.dana)
    withdraw_bulletin(bulletin=bulletin, why=f"{NAME} was not asked", at=AT, by=cast.dana)


@pytest.fixture
def planted(
    reference: None, cast: Cast, settings: Any, tmp_path: Path, keeper_in: Any
) -> tuple[Person, Markers]:
    """A member with a marker in every field, and a region in which enough others counted to publish."""
    settings.ERASURE_JOURNAL = tmp_path / "journal.jsonl"
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    Club.objects.update(founded_at=dt.datetime(2026, 6, 1, tzinfo=dt.UTC), jurisdiction="DE")
    cast.club.refresh_from_db()
    markers = Markers()
    person = _join(cast, markers)
    yard = _own_yard(cast, person, markers)
    _medicine(cast, person, yard, markers)
    _visit(cast, yard, markers)
    _elsewhere(cast, person, markers)
    _sheets(cast, person, yard, markers)
    _told(cast, person, markers)
    for number, name in enumerate(("Kim", "Lee", "Mia", "Noa", "Oli")):
        (other,) = keeper_in(name, cast.north)
        for colony in other.colonies.all():
            record_sample(count=_jar(colony, DAY, 2 * number), at=AT, by=other.keeper)
    refresh_all_marked(at=AT)
    publish_due(at=AT)
    _bulletin(cast)
    return person, markers


def _hits(pattern: str, *, without: tuple[str, ...] = ()) -> dict[str, int]:
    """Tables in which a row, whatever its columns, holds the pattern; read as text, so that no type is left out.

    Bytes are read as text in an encoding that takes any.
    """
    found = {}
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            if table not in without:
                cursor.execute(f'SELECT count(*) FROM "{table}" AS t WHERE t::text ~* %s', [pattern])
                (number,) = cursor.fetchone()
                found |= {table: number} if number else {}
        cursor.execute(
            "SELECT table_name, column_name FROM information_schema.columns"
            " WHERE table_schema = current_schema() AND data_type = 'bytea'"
        )
        for table, column in cursor.fetchall():
            cursor.execute(
                f'SELECT count(*) FROM "{table}" WHERE encode("{column}", \'escape\') ~* %s', [pattern]
            )
            (number,) = cursor.fetchone()
            found |= {f"{table}.{column}": number} if number else {}
        cursor.execute("SELECT value FROM config_cache")
        kept = [base64.b64decode(value) for (value,) in cursor.fetchall()]
    inside = [text for text in kept if re.search(pattern.encode(), text, re.IGNORECASE)]
    told = [json.dumps(session.get_decoded(), default=str) for session in Session.objects.all()]
    found |= {"cache": len(inside)} if inside else {}
    found |= {"sessions": len(told)} if any(re.search(pattern, one, re.IGNORECASE) for one in told) else {}
    return found


def _in_files(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob("*") if path.is_file() and b"zqx" in path.read_bytes().lower()]


def _figures() -> list[Any]:
    return [
        list(model.objects.order_by("pk").values())
        for model in (RegionMonth, YardMonth, AreaMonth, Publication)
    ]


def _forget(person: Person, at: dt.datetime = LEFT) -> None:
    leaving = ask_to_leave(person=person, how=How.OWN, at=AT, by=person)
    assert due_leavings(at=AT) == []
    assert due_leavings(at=at) == [leaving]
    forget_person(leaving=leaving, at=at)


def test_nothing_of_them_is_left_but_locked_records_and_these_go_on_their_day(
    planted: tuple[Person, Markers], tmp_path: Path, client_for: Callable[[Person | None], Client]
) -> None:
    person, markers = planted
    client_for(person).get("/yards/")
    assert len(markers.made) >= 30
    # Each marker can be found before: a test that planted nothing would find nothing.
    assert [one for one in markers.made if not _hits(re.escape(one))] == []
    assert set(_hits(PLACES)) == {"apiaries_yard", "apiaries_yardevent"}
    assert _in_files(tmp_path / "mail")

    _forget(person)

    assert _hits(MARKER, without=("treatments_lockedentry",)) == {}
    assert _hits(PLACES) == {}
    assert _in_files(tmp_path) == []
    locked = LockedEntry.objects.all()
    assert {one.kind for one in locked} == {"use", "purchase", "disposal"}
    # Regulation (EU) 2019/6, Article 108: five years, from the day of the use.
    assert {one.kept_until for one in locked} == {dt.date(2031, 8, 5)}
    assert _hits(MARKER) == {"treatments_lockedentry": locked.count()}

    assert let_go(at=dt.datetime(2031, 8, 6, 11, tzinfo=dt.UTC)) == 0  # still the 5th somewhere
    assert let_go(at=dt.datetime(2031, 8, 6, 12, tzinfo=dt.UTC)) == 4
    assert _hits(MARKER) == {}


def test_others_words_lose_the_name_and_the_address_only(planted: tuple[Person, Markers], cast: Cast) -> None:
    person, _ = planted

    _forget(person)

    bulletin = Bulletin.objects.get()
    assert bulletin.foreword == "Ask former member (former member) about it."
    assert bulletin.withdrawn_why == "former member was not asked"
    notes = set(MiteSample.objects.filter(recorded_by=cast.alice).values_list("note", flat=True))
    assert notes == {"counted with former member, write to former member"}
    assert set(MiteSample.objects.filter(yard__keeper=person).values_list("note", flat=True)) == {""}
    assert set(ImportBatch.objects.values_list("by", "state")) == {
        (person.pk, ImportState.REFUSED),
        (cast.dana.pk, ImportState.REFUSED),
    }
    assert not ImportRow.objects.exists() and not ImportWork.objects.exists()
    visit = Visit.objects.get()
    assert visit.remarks == "former member was away, to be reached at former member"
    assert (visit.present_who, visit.land_owner, visit.colonies_present) == ("", "", 2)


def test_figures_of_regions_stay_as_they_were(planted: tuple[Person, Markers]) -> None:
    person, _ = planted
    before = _figures()
    assert any(row["frozen_at"] and row["rate"] for row in before[0])  # something is published

    _forget(person)

    assert _figures() == before
    assert recompute_all(at=LEFT) == []


def test_counts_stay_under_a_former_member(planted: tuple[Person, Markers]) -> None:
    person, _ = planted
    before = MiteSample.objects.filter(yard__keeper=person).values_list(
        "pk", "mites", "bees", "rate", "sampled_on"
    )
    counts = set(before)

    _forget(person)

    person.refresh_from_db()
    assert (person.name, person.is_active, person.has_usable_password()) == ("Former member", False, False)
    assert set(before.all()) == counts
    assert not Yard.objects.filter(keeper=person, closed_on=None).exists()
    assert not Colony.objects.filter(yard__keeper=person, ended_on=None).exists()


def test_an_erasure_that_fails_changes_nothing(
    planted: tuple[Person, Markers], settings: Any, tmp_path: Path
) -> None:
    person, markers = planted
    (tmp_path / "file").write_text("")
    settings.ERASURE_JOURNAL = tmp_path / "file" / "journal"  # no folder can be there

    with pytest.raises(journal.JournalUnwritable), transaction.atomic():
        _forget(person)

    assert [one for one in markers.made if not _hits(re.escape(one))] == []
    settings.ERASURE_JOURNAL = tmp_path / "journal.jsonl"
    (leaving,) = due_leavings(at=LEFT) or [ask_to_leave(person=person, how=How.OWN, at=AT, by=person)]
    forget_person(leaving=leaving, at=LEFT)  # and can be done again
    assert _hits(MARKER, without=("treatments_lockedentry",)) == {}


def test_a_second_look_removes_what_came_in_at_the_last_moment(planted: tuple[Person, Markers]) -> None:
    person, _ = planted
    _forget(person)
    late = MiteSample.objects.filter(yard__keeper=person).first()
    MiteSample.objects.filter(pk=late.pk).update(note="zqx99 late")
    names = list(LockedEntry.objects.values_list("content__keeper", flat=True))

    assert unlooked(at=LEFT) == []
    (leaving,) = unlooked(at=LEFT + dt.timedelta(hours=1))
    look_once_more(leaving=leaving, at=LEFT + dt.timedelta(hours=1))

    assert _hits(MARKER, without=("treatments_lockedentry",)) == {}
    assert list(LockedEntry.objects.values_list("content__keeper", flat=True)) == names == [NAME] * len(names)
    assert unlooked(at=LEFT + dt.timedelta(days=1)) == []
