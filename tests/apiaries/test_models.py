"""Every rule of the tables is held by PostgreSQL itself: each is broken once behind the actions' back."""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction
from django.utils import timezone

from apiaries.models import (
    AccessToken,
    AccountNotice,
    Club,
    Colony,
    ColonyChange,
    ColonyMove,
    Invitation,
    Leaving,
    Membership,
    Person,
    RefusedSignIn,
    Region,
    SignIn,
    Yard,
    YardHelper,
)
from tests.apiaries.broken_visits import BROKEN_VISITS

ON = dt.date(2026, 8, 12)
NOW = dt.datetime(2026, 8, 12, 10, tzinfo=dt.UTC)


def colony(cast: Any, **fields: Any) -> None:
    Colony.objects.create(**{"yard": cast.alice_yard, "name": "new", "started_on": ON} | fields)


def yard(cast: Any, **fields: Any) -> None:
    known = {"club": cast.club, "keeper": cast.alice, "region": cast.north, "name": "New", "time_zone": "UTC"}
    Yard.objects.create(**known | fields)


def invitation(cast: Any, **fields: Any) -> None:
    known = {"club": cast.club, "email": "a@example.org", "role": "member", "invited_by": cast.dana}
    Invitation.objects.create(**known | {"expires_at": timezone.now()} | fields)


def membership(cast: Any, **fields: Any) -> None:
    person = Person.objects.create(email="m@example.org", name="M")
    Membership.objects.create(**{"club": cast.club, "person": person, "role": "member"} | fields)


def helper(cast: Any, **fields: Any) -> None:
    YardHelper.objects.create(
        **{"yard": cast.charlie_yard, "person": cast.bob, "added_by": cast.charlie} | fields
    )


def move(cast: Any, to_yard: Yard) -> None:
    ColonyMove.objects.create(
        colony=cast.colony, from_yard=cast.alice_yard, to_yard=to_yard, moved_on=ON, recorded_by=cast.alice
    )


def leaving(cast: Any, **fields: Any) -> None:
    day = dt.datetime.combine(ON, dt.time(), dt.UTC)
    known = {"person": cast.bob, "how": "own", "asked_at": day, "due_at": day}
    Leaving.objects.create(**known | fields)


def token(cast: Any, **fields: Any) -> None:
    made = dt.datetime.combine(ON, dt.time(), dt.UTC)
    known = {"person": cast.alice, "name": "scale", "digest": "d", "prefix": "p", "scopes": ["yards:read"]}
    known |= {"made_at": made, "expires_at": made + dt.timedelta(days=366)}
    AccessToken.objects.create(**known | fields)


def change(cast: Any, kind: str, **fields: Any) -> None:
    known = {"colony": cast.colony, "kind": kind, "happened_on": ON, "recorded_by": cast.alice}
    ColonyChange.objects.create(**known | fields)


def notice(cast: Any, **fields: Any) -> None:
    known = {"person": cast.alice, "kind": "password", "to": cast.alice.email, "made_at": NOW}
    AccountNotice.objects.create(**known | {"next_at": NOW, "useless_after": NOW} | fields)


BROKEN: dict[str, Callable[[Any], object]] = {
    "apiaries_person_email": lambda cast: Person.objects.create(email="alice@example.org", name="A"),
    "apiaries_person_email_lower_case": lambda cast: Person.objects.create(email="New@example.org", name="A"),
    "apiaries_person_quiet_days_of_a_week": lambda cast: Person.objects.create(
        email="quiet@example.org", name="Q", quiet_days=[0, 1, 2, 3, 4, 5, 6]
    ),
    "apiaries_person_named": lambda cast: Person.objects.create(
        email="named@example.org", name="N", known_to=cast.alice
    ),
    "apiaries_club_count_months_of_a_year": lambda cast: Club.objects.create(
        name="M", time_zone="UTC", count_months=[0]
    ),
    "apiaries_club_name_key": lambda cast: Club.objects.create(name=cast.club.name, time_zone="UTC"),
    "apiaries_club_bees_per_half_cup_plausible": lambda cast: Club.objects.create(
        name="C", time_zone="UTC", bees_per_half_cup=30
    ),
    "apiaries_club_visit_share_of_a_hundred": lambda cast: Club.objects.create(
        name="V", time_zone="UTC", visit_share_percent=101
    ),
    "apiaries_region_name_unique_in_club": lambda cast: Region.objects.create(club=cast.club, name="NORTH"),
    "apiaries_membership_one_at_a_time": lambda cast: membership(cast, person=cast.zoe),
    "apiaries_membership_role_known": lambda cast: membership(cast, role="queen"),
    "apiaries_membership_ended_pair": lambda cast: membership(cast, ended_at=timezone.now()),
    "apiaries_invitation_accepted_pair": lambda cast: invitation(cast, accepted_at=timezone.now()),
    "apiaries_invitation_withdrawn_pair": lambda cast: invitation(cast, withdrawn_by=cast.dana),
    "apiaries_invitation_email_lower_case": lambda cast: invitation(cast, email="A@example.org"),
    "apiaries_invitation_token_key": lambda cast: [invitation(cast, token="t") for _ in range(2)],
    "apiaries_yard_name_unique_for_keeper": lambda cast: yard(cast, name="HOME YARD"),
    "apiaries_yard_place_whole": lambda cast: yard(cast, latitude=Decimal("52")),
    "apiaries_yardhelper_once": lambda cast: helper(cast, yard=cast.alice_yard),
    "apiaries_yardhelper_ended_pair": lambda cast: helper(cast, ended_by=cast.charlie),
    "apiaries_colony_name_unique_in_yard": lambda cast: [
        colony(cast, name=name) for name in ("Blue", "blue")
    ],
    "apiaries_colony_brood_boxes_plausible": lambda cast: colony(cast, brood_boxes=7),
    "apiaries_colony_ends_after_start": lambda cast: colony(cast, ended_on=dt.date(2026, 8, 11)),
    "apiaries_colony_brood_known": lambda cast: colony(cast, brood="lots", brood_seen_on=ON),
    "apiaries_colony_brood_has_a_date": lambda cast: colony(cast, brood="some"),
    "apiaries_colony_label_code_key": lambda cast: colony(cast, label_code=cast.colony.label_code),
    "apiaries_colonychange_kind_known": lambda cast: change(cast, "swarmed"),
    "apiaries_colonychange_other_where_needed": lambda cast: change(cast, "united"),
    "apiaries_colonychange_two_colonies": lambda cast: change(cast, "united", other=cast.colony),
    "apiaries_colonychange_voided_whole": lambda cast: change(cast, "ended", voided_at=timezone.now()),
    "apiaries_colonychange_one_mother": lambda cast: [
        change(cast, "split", colony=mother, other=cast.colonies[2]) for mother in cast.colonies[:2]
    ],
    "apiaries_colonychange_ends_once": lambda cast: [
        change(cast, "ended"),
        change(cast, "united", other=cast.colonies[2]),
    ],
    "apiaries_colonymove_to_another_yard": lambda cast: move(cast, cast.alice_yard),
    "apiaries_leaving_one_open": lambda cast: [leaving(cast), leaving(cast)],
    "apiaries_leaving_how_known": lambda cast: leaving(cast, how="hearsay"),
    "apiaries_leaving_called_off_whole": lambda cast: leaving(cast, called_off_at=timezone.now()),
    "apiaries_leaving_due_later": lambda cast: leaving(cast, asked_at=timezone.now()),
    "apiaries_accesstoken_scopes_known": lambda cast: token(cast, scopes=["yards:write"]),
    "apiaries_accesstoken_ends_within_a_year": lambda cast: token(
        cast, expires_at=dt.datetime(2027, 8, 14, tzinfo=dt.UTC)
    ),
    "apiaries_accesstoken_revoked_pair": lambda cast: token(cast, revoked_at=timezone.now()),
    "apiaries_signin_device_known": lambda cast: SignIn.objects.create(
        person=cast.alice, session_key="s", device="slate", signed_in_at=NOW, last_seen_at=NOW
    ),
    "apiaries_refusedsignin_device_known": lambda cast: RefusedSignIn.objects.create(
        mark="0123456789", device="slate", at=NOW
    ),
    "apiaries_accountnotice_kind_known": lambda cast: notice(cast, kind="hearsay"),
    "apiaries_accountnotice_one_end": lambda cast: notice(cast, sent_at=NOW, given_up_at=NOW),
    "apiaries_accountnotice_words_go": lambda cast: notice(cast, sent_at=NOW, text="Hello"),
    **BROKEN_VISITS,
}


@pytest.mark.parametrize("rule", BROKEN)
def test_database_holds(cast: Any, rule: str) -> None:
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        BROKEN[rule](cast)


def test_yard_cannot_lie_in_another_clubs_region(cast: Any) -> None:
    foreign = Region.objects.create(club=cast.zoe.membership.club, name="Far")

    with pytest.raises(IntegrityError, match="region_of_own_club"), transaction.atomic():
        Yard.objects.filter(pk=cast.alice_yard.pk).update(region=foreign)
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def test_every_named_constraint_is_broken_once() -> None:
    declared = {
        constraint.name
        for model in apps.get_app_config("apiaries").get_models()
        for constraint in model._meta.constraints
        if not model.__name__.endswith("Event")
    }

    # Only the target of the composite key cannot be broken by itself: `id` alone is unique already.
    assert declared - set(BROKEN) == {"apiaries_region_id_club"}


def test_nothing_is_deleted_along_with_something_else() -> None:
    for model in apps.get_app_config("apiaries").get_models():
        if (
            model.__name__.endswith("Event") or model._meta.proxy
        ):  # Django's own rows of many to many, kept in history
            continue
        for field in model._meta.get_fields():
            if isinstance(field, models.ForeignKey):
                assert field.remote_field.on_delete is models.PROTECT, f"{model.__name__}.{field.name}"


def test_closed_yard_and_ended_colony_free_their_names(cast: Any) -> None:
    Yard.objects.filter(pk=cast.alice_yard.pk).update(closed_on=ON)

    yard(cast, name="home yard")

    assert cast.alice.yards.count() == 2


def test_local_date_is_the_yards(cast: Any) -> None:
    late = dt.datetime(2026, 8, 12, 22, 30, tzinfo=dt.UTC)

    assert cast.alice_yard.local_date(late) == dt.date(2026, 8, 13)  # half past midnight in Berlin


def test_label_codes_use_letters_that_cannot_be_mistaken(cast: Any) -> None:
    assert not set("".join(c.label_code for c in cast.colonies)) & set("01OIL")


def test_everything_says_what_it_is(cast: Any) -> None:
    membership, helper = cast.alice.membership, cast.alice_yard.helpers.get()

    assert str(membership) == "Alice in Test club (member)"
    assert str(helper) == "Bob helps in Home yard"
    assert [str(thing) for thing in (cast.club, cast.north, cast.alice_yard, cast.colony)] == [
        "Test club",
        "North",
        "Home yard",
        "1",
    ]


def test_no_password_lives_on_in_the_history(cast: Any) -> None:
    fields = {field.name for field in Person.pgh_event_model._meta.get_fields()}

    assert not fields & {"password", "last_login"}
    assert {"email", "name"} <= fields
