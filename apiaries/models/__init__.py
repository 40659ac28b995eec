"""Who and where. Facts only: what somebody may see or do is worked out in `apiaries.access`."""

from apiaries.models.life import ENDS, ChangeKind, ColonyChange
from apiaries.models.people import Club, Invitation, Membership, Person, Region, anybody
from apiaries.models.places import Brood, Colony, ColonyMove, Yard, YardHelper
from apiaries.models.tokens import AccessToken

__all__ = [
    "ENDS",
    "AccessToken",
    "Brood",
    "Club",
    "Colony",
    "ColonyChange",
    "ColonyMove",
    "ChangeKind",
    "Invitation",
    "Membership",
    "Person",
    "Region",
    "Yard",
    "YardHelper",
    "anybody",
]
