"""What becomes of the columns of this app, of sign-in and of the framework, once a person is forgotten."""

from apiaries.forgetting.registry import FORMER, emptied, gone, others_words, registry, replaced, stays

CHOICE = stays("one of our own words, chosen from a list")
ZONE = stays("a time zone is the club's or a country's")


def address_for(pk: int) -> str:
    """Nobody's address, one for each: the column is unique, and `.invalid` is never delivered to (RFC 2606)."""
    return f"forgotten-{pk}@forgotten.invalid"


def list_columns() -> None:
    """Called once all models are known."""
    _people()
    _places()
    _visits()
    _framework()


def _people() -> None:
    own = "pk"
    registry.enter(
        "apiaries.Person",
        {
            "password": replaced(own, free=False, elsewhere="erasing._sign_out"),
            "email": replaced(own, to=address_for, free=False),
            # Also of those who are no account but a name in a file that the person brought.
            "name": replaced(own, "known_to", to=FORMER, free=False),
            "time_zone": replaced(own, to="UTC", free=False),
            "language": replaced(own, to="en-gb", free=False),
            "quiet_days": emptied(own, to=[], free=False),
        },
    )
    registry.enter(
        "apiaries.Club",
        {
            "name": stays("the club's name"),
            "time_zone": ZONE,
            "jurisdiction": CHOICE,
            "action_level_issuer": CHOICE,
            "count_months": CHOICE,
            "visit_rule": CHOICE,
        },
    )
    registry.enter("apiaries.Region", {"name": stays("the club's name for a part of its area")})
    registry.enter("apiaries.Membership", {"role": CHOICE})
    registry.enter(
        "apiaries.Invitation",
        {
            "email": replaced("accepted_by", to="forgotten@forgotten.invalid", free=False, by_address=True),
            "role": CHOICE,
            "token": replaced(elsewhere="erasing._close_invitations", free=False),
        },
    )
    token = gone("person")
    registry.enter("apiaries.AccessToken", {"name": token, "digest": token, "prefix": token, "scopes": token})
    registry.enter("apiaries.SignIn", {"session_key": gone("person"), "device": gone("person")})
    refused = gone(elsewhere="erasing._sign_out")
    registry.enter("apiaries.RefusedSignIn", {"mark": refused, "device": refused})
    notice = gone("person")
    registry.enter(
        "apiaries.AccountNotice", dict.fromkeys(("kind", "to", "subject", "text", "html", "why_not"), notice)
    )
    registry.enter("apiaries.Leaving", {"how": CHOICE})


def _places() -> None:
    keeper = "keeper"
    registry.enter(
        "apiaries.Yard",
        {
            "name": replaced(keeper, to="Former yard", free=False),
            "time_zone": ZONE,
            "latitude": emptied(keeper, to=None, free=False),
            "longitude": emptied(keeper, to=None, free=False),
            "cell": stays(
                "an area of about 250 km2, shown only where three keepers counted; figures hang on it"
            ),
        },
        in_history={"cell": emptied(keeper, free=False)},
    )
    here = "yard__keeper"
    registry.enter(
        "apiaries.Colony",
        {
            "name": replaced(here, to="colony", free=False, elsewhere="erasing._number_colonies"),
            "label_code": replaced(here, free=False, elsewhere="erasing._number_colonies"),
            "brood": CHOICE,
            "ended_why": emptied(here),
        },
        in_history={
            "name": replaced(here, to="colony", free=False),
            "label_code": emptied(here, free=False),
        },
    )
    registry.enter(
        "apiaries.ColonyChange",
        {
            "kind": CHOICE,
            "note": emptied("colony__yard__keeper", "recorded_by"),
            "voided_why": replaced("colony__yard__keeper", "voided_by"),
        },
    )


def _visits() -> None:
    """Reports stay the inspection service's: who was there, whose land it is and who is told goes."""
    report = others_words("an inspector's report, written in office")
    here = "yard__keeper"
    registry.enter(
        "apiaries.Visit",
        dict.fromkeys(("planned_why", "weather", "remarks", "recommendations"), report)
        | dict.fromkeys(("present", "told", "rule", "drawn"), CHOICE)
        | {
            "present_who": emptied(here),
            "land_owner": emptied(here),
            "cancelled_why": report,
            "voided_why": report,
        },
    )
    codes = ("strength", "adult_bees", "brood_look", "comb", "stores", "debris", "equipment")
    registry.enter("apiaries.VisitFinding", dict.fromkeys(codes, CHOICE) | {"remark": report})
    registry.enter("apiaries.VisitSuspicion", {"disease": CHOICE, "duty": CHOICE, "seen": report})
    registry.enter(
        "apiaries.LabSample",
        dict.fromkeys(("number", "what", "sent_to", "result"), report)
        | {"results_to": emptied("visit__yard__keeper")},
    )
    registry.enter("apiaries.VisitOrder", {"what": report, "done_note": report})


def _framework() -> None:
    registry.enter("account.EmailAddress", {"email": gone("user")})
    registry.enter("account.EmailConfirmation", {"key": gone("email_address__user")})
    registry.enter("mfa.Authenticator", {"type": gone("user"), "data": gone("user")})
    session = gone(elsewhere="erasing._sign_out")
    registry.enter("sessions.Session", {"session_key": session, "session_data": session})
    registry.enter("pghistory.Context", {"metadata": emptied(free=True)})
    ours = stays("a word of the program")
    registry.enter("auth.Group", {"name": ours})
    registry.enter("auth.Permission", {"name": ours, "codename": ours})
    registry.enter("contenttypes.ContentType", {"app_label": ours, "model": ours})
    registry.table("django_migrations", "names of programs' own files")
    registry.table("config_cache", "emptied when somebody is forgotten")
