"""Who and where. Facts only: what somebody may see or do is worked out in `apiaries.access`."""

from apiaries.models.leaving import How, Leaving
from apiaries.models.life import ENDS, ChangeKind, ColonyChange
from apiaries.models.nobody import anybody
from apiaries.models.notices import AccountNotice, NoticeKind
from apiaries.models.people import Club, Invitation, Membership, Person, Region
from apiaries.models.places import Brood, Colony, ColonyMove, Yard, YardHelper
from apiaries.models.sign_ins import DeviceKind, RefusedSignIn, SignIn
from apiaries.models.tokens import AccessToken
from apiaries.models.visit_parts import LabSample, VisitFinding, VisitOrder, VisitSuspicion
from apiaries.models.visits import Present, Told, Visit, VisitState

__all__ = [
    "ENDS",
    "AccessToken",
    "AccountNotice",
    "Brood",
    "Club",
    "Colony",
    "ColonyChange",
    "ColonyMove",
    "ChangeKind",
    "DeviceKind",
    "How",
    "Invitation",
    "LabSample",
    "Leaving",
    "Membership",
    "NoticeKind",
    "Person",
    "Present",
    "RefusedSignIn",
    "Region",
    "SignIn",
    "Told",
    "Visit",
    "VisitFinding",
    "VisitOrder",
    "VisitState",
    "VisitSuspicion",
    "Yard",
    "YardHelper",
    "anybody",
]
