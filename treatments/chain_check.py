"""Looks whether the chains of medicine records are whole, and whether every entry is as its last link says."""

from collections.abc import Iterator

from django.db.models import Q

from apiaries.models import Person
from treatments.chain import Broken, Fault, What, digest_of, first_fault
from treatments.chain_texts import Stands, kept_standing, locked_standing, uses_standing
from treatments.models import MedicineLink, MedicineSalt


def faults_of(keeper: int) -> list[Fault]:
    """What is wrong with one keeper's record: the first broken link, then entries that differ. Empty if all agrees."""
    links = [row.as_value() for row in MedicineLink.objects.filter(keeper=keeper).order_by("number")]
    last = {(link.kind, link.entry): link for link in links}
    broken = first_fault(links)
    found = [broken] if broken else []
    here = {(one.kind.value, str(one.entry)): one for one in _standing(keeper)}
    locked = {(one.kind.value, str(one.entry)): one for one in locked_standing(Q(keeper=keeper))}
    keys = [entry for _, entry in last]
    salts = {(row.kind, str(row.entry)): row.salt for row in MedicineSalt.objects.filter(entry__in=keys)}
    forgotten = Person.objects.filter(pk=keeper, forgotten_at__isnull=False).exists()
    for at, link in last.items():
        stands: Stands | None = locked.get(at) if link.what == What.LOCKED else here.get(at)
        wrong = None
        if link.what == What.ENDED:
            wrong = Broken.STILL_THERE if at in locked or at in salts else None
        elif stands is None:
            wrong = Broken.ENTRY_GONE
        elif digest_of(salts.get(at, ""), stands.text) != link.digest:
            wrong = Broken.ENTRY_DIFFERS
        if wrong is not None:
            found.append(Fault(keeper=keeper, broken=wrong, number=link.number, kind=at[0], entry=at[1]))
    without = {**locked, **({} if forgotten else here)}
    found += [
        Fault(keeper=keeper, broken=Broken.NO_LINK_OF_ENTRY, number=None, kind=kind, entry=entry)
        for kind, entry in without
        if (kind, entry) not in last
    ]
    return found


def all_faults() -> Iterator[Fault]:
    """Of every keeper, in the order of their keys."""
    for keeper in Person.objects.order_by("pk").values_list("pk", flat=True):
        yield from faults_of(keeper)


def _standing(keeper: int) -> list[Stands]:
    return [*uses_standing(Q(yard__keeper=keeper)), *kept_standing(Q(keeper=keeper))]
