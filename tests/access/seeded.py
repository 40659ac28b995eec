"""Holes that were opened on purpose: see `tests.access.mutants`. Each is one that somebody could leave by mistake."""

from dataclasses import dataclass

MATRIX, ALIKE = "tests/access/test_matrix.py", "tests/access/test_alike.py"
CHOICES, WRITES = "tests/access/test_choices.py", "tests/access/test_writes.py"
LEFT, SECRETS = "tests/access/test_left.py", "tests/access/test_secrets.py"
TOKENS, CROSSING = "tests/access/test_tokens.py", "tests/access/test_crossing.py"
DISCLOSURE = "tests/access/test_disclosure.py"
PLACES, GATES = "apiaries/models/places.py", "apiaries/access.py"
VISITS, REPORTS = "apiaries/models/visits.py", "reports/access.py"


@dataclass(frozen=True, slots=True)
class Mutant:
    """A hole: in the module at `path`, `old`, which stands there once, becomes `new`; `tests` are about it."""

    name: str
    what: str
    path: str
    old: str
    new: str
    tests: tuple[str, ...]


def about(words: str) -> tuple[str, ...]:
    """The rows of the table of addresses that these words find."""
    return (MATRIX, "-k", words)


HOLES = (
    Mutant(
        "every-yard",
        "Everybody sees every yard.",
        PLACES,
        "return self.filter(seen)",
        "return self.all()",
        about("yard-detail"),
    ),
    Mutant(
        "editable-is-visible",
        "Who sees a yard may set it up.",
        PLACES,
        "return self.filter(keeper_id=person.pk, club_id=_club_of(person))",
        "return self.visible_to(person)",
        about("yard-edit"),
    ),
    Mutant(
        "recordable-is-visible",
        "Who sees a yard may log in it.",
        PLACES,
        'return self.filter(own | one_of("pk", _helped_by(person)))',
        "return self.visible_to(person)",
        about("sample-add"),
    ),
    Mutant(
        "exact-place",
        "Who sees a yard sees its exact place.",
        PLACES,
        'return self.filter(Q(keeper_id=person.pk) | one_of("pk", _helped_by(person)) | _inspected_by(person))',
        "return self.visible_to(person)",
        (SECRETS, "-k", "exact_place"),
    ),
    Mutant(
        "every-region",
        "Inspectors see all regions of their club.",
        PLACES,
        'return Q(club_id=membership.club_id) & one_of("region_id", membership.regions.values("pk"))',
        "return Q(club_id=membership.club_id)",
        about("yard-detail"),
    ),
    Mutant(
        "ended-helper",
        "Who no longer helps still does.",
        PLACES,
        "YardHelper.objects.filter(person=person, ended_at=None, yard__",
        "YardHelper.objects.filter(person=person, yard__",
        (LEFT, CROSSING),
    ),
    Mutant(
        "left-the-club",
        "Who left the club still helps in its yards.",
        PLACES,
        "ended_at=None, yard__club_id=_club_of(person))",
        "ended_at=None)",
        (LEFT,),
    ),
    Mutant(
        "ended-membership",
        "A membership that ended still stands.",
        "apiaries/models/people.py",
        "return self.filter(ended_at=None)",
        "return self.all()",
        (LEFT,),
    ),
    Mutant(
        "not-shared",
        "Coordinators see yards of those who do not share.",
        PLACES,
        ".current().filter(shares_counts=True)",
        ".current()",
        about("yard-detail"),
    ),
    Mutant(
        "hidden-is-refused",
        "What is hidden is refused, and so shows that it is there.",
        GATES,
        "if visible.filter(pk=pk).exists():",
        "if visible.model._base_manager.filter(pk=pk).exists():",
        (ALIKE,),
    ),
    Mutant(
        "any-colony",
        "Any colony can be opened.",
        GATES,
        'return get_object_or_404(Colony.objects.visible_to(person).select_related("yard__club"), pk=pk)',
        'return get_object_or_404(Colony.objects.select_related("yard__club"), pk=pk)',
        about("colony-detail"),
    ),
    Mutant(
        "any-label",
        "A label leads everybody to its colony.",
        GATES,
        'colonies = Colony.objects.visible_to(person).select_related("yard__club")',
        'colonies = Colony.objects.select_related("yard__club")',
        about("label"),
    ),
    Mutant(
        "any-role",
        "What a role may do in a club, every member may.",
        GATES,
        "    if not person.can(permission):\n        raise PermissionDenied\n    return membership.club",
        "    return membership.club",
        about("club-edit"),
    ),
    Mutant(
        "any-membership",
        "Administrators change memberships of other clubs.",
        GATES,
        'members = club_for(person, permission).memberships.current().select_related("person", "club")',
        'club_for(person, permission)\n    members = Membership.objects.current().select_related("person", "club")',
        about("member-change"),
    ),
    Mutant(
        "any-invitation",
        "Invitations of other clubs can be withdrawn.",
        GATES,
        "club_for(person, Permission.MEMBER_INVITE).invitations.all(), pk=pk)",
        "Invitation.objects.all(), pk=pk)",
        about("invitation-withdraw"),
    ),
    Mutant(
        "any-token",
        "Tokens of others can be revoked.",
        GATES,
        "AccessToken.objects.visible_to(person).filter(revoked_at=None)",
        "AccessToken.objects.filter(revoked_at=None)",
        about("token-revoke"),
    ),
    Mutant(
        "visits-everywhere",
        "Inspectors open visits of other regions.",
        VISITS,
        'return self.filter(one_of("yard_id", _inspected(person)) | inside & told)',
        "return self.all() if person.can(Permission.VISIT_RECORD) else self.filter(inside & told)",
        about("visit-detail"),
    ),
    Mutant(
        "silent-visit",
        "Keepers see visits that are not announced.",
        VISITS,
        "| inside & told)",
        "| inside)",
        about("visit-detail"),
    ),
    Mutant(
        "any-visit-corrected",
        "Inspectors correct visits in other regions.",
        VISITS,
        '        return made.filter(one_of("yard_id", _inspected(person)))',
        "        return made",
        (CROSSING, LEFT),
    ),
)
