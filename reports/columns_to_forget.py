"""What becomes of the columns of this app once a person is forgotten: what was for them goes, figures stay."""

from apiaries.columns_to_forget import CHOICE
from apiaries.forgetting.registry import gone, others_words, registry, stays

FIGURES = stays("sums over regions or yards, without a name")
CELLS = stays("areas of about 250 km2 in which three keepers counted")
OURS = stays("a word of the program")


def list_columns() -> None:
    """Called once all models are known. The outbox goes from its end: attempts, notices, then the mails."""
    attempt = gone("digest__person")
    registry.enter("reports.DigestAttempt", {"outcome": attempt, "detail": attempt})
    notice = gone("person")
    registry.enter("reports.Notice", {"kind": notice, "subject": notice})
    registry.enter("reports.Digest", {"state": notice, "message_id": notice})
    registry.enter("reports.PutOff", {"subject": notice})
    registry.enter("reports.Suspension", {"email": notice, "why": notice})
    registry.enter("reports.CalendarFeed", {"digest": notice})
    registry.enter("reports.ReturnedFile", dict.fromkeys(("content", "sha256", "told"), notice))
    registry.enter(
        "reports.MailOutage",
        {"last_error": others_words("what a mail server said to all; it may hold an address")},
    )
    registry.enter("reports.Heartbeat", {"name": OURS})
    registry.enter("reports.WorkDone", {"work": OURS, "host": stays("the name of a machine")})
    registry.enter("reports.BackupRun", {"why_not": OURS})
    registry.enter("reports.SendingPause", {"why": OURS})
    registry.enter("reports.PublicPage", {"word": stays("chance letters of a club's page")})
    registry.enter(
        "reports.Bulletin",
        {
            "foreword": others_words("the club's word to its members, written in office"),
            "words": FIGURES,
            "figures": FIGURES,
            "withdrawn_why": others_words("the club's word to its members, written in office"),
        },
    )
    registry.enter("reports.YardMonth", {"kind": CHOICE, "brood": CHOICE})
    registry.enter(
        "reports.RegionMonth", {"kind": CHOICE, "part": CHOICE, "shares": FIGURES, "reason": CHOICE}
    )
    registry.enter("reports.AreaMonth", {"kind": CHOICE, "piece": CELLS, "cells": CELLS})
