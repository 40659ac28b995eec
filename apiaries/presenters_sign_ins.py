"""What the page of one's sign-ins shows."""

import datetime as dt
from dataclasses import dataclass

from allauth.account.models import EmailAddress

from apiaries.language import mark, say
from apiaries.models import DeviceKind, Person, RefusedSignIn, SignIn
from apiaries.models.sign_ins import sessions_that_hold
from apiaries.sign_in_log import mark_of

SHOWN = 20
"""Of each list, the newest: somebody who guesses for hours fills no page."""

DEVICE_WORDS = {
    DeviceKind.PHONE: mark("Phone"),
    DeviceKind.COMPUTER: mark("Computer or tablet"),
    DeviceKind.UNKNOWN: mark("A device that does not say what it is"),
}


@dataclass(frozen=True)
class SignInLine:
    """One that holds, or an earlier one."""

    sign_in: SignIn
    device: str
    is_this: bool


@dataclass(frozen=True)
class RefusedLine:
    """A try that was refused."""

    at: dt.datetime
    device: str


@dataclass(frozen=True)
class SignIns:
    """All of the page."""

    open: list[SignInLine]
    earlier: list[SignInLine]
    refused: list[RefusedLine]
    more_refused: int

    @property
    def others(self) -> bool:
        """Whether there is one to end beside this."""
        return any(not line.is_this for line in self.open)


def sign_ins_of(person: Person, *, session_key: str | None, at: dt.datetime) -> SignIns:
    """This one first, then the one used last; the earlier ones and the tries by their time, newest first."""
    mine = list(SignIn.objects.visible_to(person))
    holding = set(
        sessions_that_hold(at).filter(pk__in=[one.session_key for one in mine]).values_list("pk", flat=True)
    )
    lines = [SignInLine(one, _words(one.device), one.session_key == session_key) for one in mine]
    still = [line for line in lines if line.sign_in.session_key in holding]
    refused = RefusedSignIn.objects.filter(mark__in=_marks(person))
    return SignIns(
        open=sorted(still, key=lambda line: (line.is_this, line.sign_in.last_seen_at), reverse=True),
        earlier=[line for line in lines if line.sign_in.session_key not in holding][:SHOWN],
        refused=[RefusedLine(one.at, _words(one.device)) for one in refused[:SHOWN]],
        more_refused=max(refused.count() - SHOWN, 0),
    )


def _words(device: str) -> str:
    return say(DEVICE_WORDS[DeviceKind(device)])


def _marks(person: Person) -> set[str]:
    addresses = EmailAddress.objects.filter(user=person).values_list("email", flat=True)
    return {mark_of(address) for address in (person.email, *addresses)}
