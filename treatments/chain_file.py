"""A medicine record's chain as a file that somebody else can check: docs/reference/medicine-chain.md describes it."""

import json

from django.db.models import Q

from apiaries.models import Person
from treatments.chain import told
from treatments.chain_texts import kept_standing, uses_standing
from treatments.medicine_record import uses_of
from treatments.models import MedicineLink, MedicineSalt
from treatments.models.medicines import keepers_seen_by

FORMAT = "recount medicine chain 1"


def chain_file(person: Person, keeper: Person) -> bytes:
    """All links, and of the entries those that this person may see, each with its text and salt. JSON in UTF-8."""
    entries = list(uses_standing(Q(pk__in=uses_of(person, keeper))))
    if keepers_seen_by(person).filter(pk=keeper.pk).exists():
        entries += kept_standing(Q(keeper=keeper))
    keys = [one.entry for one in entries]
    salts = {(row.kind, row.entry): row.salt for row in MedicineSalt.objects.filter(entry__in=keys)}
    links = [row.as_value() for row in MedicineLink.objects.filter(keeper=keeper).order_by("number")]
    made = {
        "format": FORMAT,
        "keeper": keeper.pk,
        "head": {"number": links[-1].number, "hash": links[-1].hash, "at": links[-1].at} if links else None,
        "links": [
            {
                "number": one.number,
                "kind": one.kind,
                "entry": one.entry,
                "what": one.what,
                "digest": one.digest,
                "previous": one.previous,
                "at": one.at,
                "hash": one.hash,
            }
            for one in links
        ],
        "entries": [
            {
                "kind": one.kind.value,
                "entry": one.entry,
                "salt": salts.get((one.kind.value, one.entry), ""),
                "text": one.text,
            }
            for one in entries
        ],
    }
    return json.dumps(told(made), indent=1).encode()
