"""The statement that adds counts, and the row that names what they are estimated with. For the actions."""

from collections.abc import Sequence
from weakref import WeakKeyDictionary

from django.db import connection, transaction

from counts.constants import METHOD_VERSION, Constants
from counts.models import EstimateBasis, MiteSample

_FIELDS = [field for field in MiteSample._meta.concrete_fields if not field.primary_key]
_COLUMNS = ", ".join(str(field.column) for field in _FIELDS)
_ROW = f"({', '.join(['%s'] * len(_FIELDS))})"

_known: WeakKeyDictionary[object, list[tuple[Constants, EstimateBasis]]] = WeakKeyDictionary()
"""By connection: one that ends, as when a database is put back from a backup, takes with it what it knew."""


def add(samples: Sequence[MiteSample]) -> list[MiteSample]:
    """Add new counts, and give them their keys; those whose entry key another count has are given back, not added.

    Neither needs the transaction to be begun anew: where the key is taken, the database says so without an error.
    """
    if not samples:
        return []
    query = (
        f"INSERT INTO {MiteSample._meta.db_table} ({_COLUMNS}) VALUES {', '.join([_ROW] * len(samples))}"  # noqa: S608
        " ON CONFLICT (entry_key) DO NOTHING RETURNING entry_key, id"
    )
    values = [
        field.get_db_prep_save(getattr(one, field.attname), connection)
        for one in samples
        for field in _FIELDS
    ]
    with connection.cursor() as cursor:
        cursor.execute(query, values)
        added = dict(cursor.fetchall())
    taken = []
    for one in samples:
        one.pk = added.pop(one.entry_key, None)
        if one.pk is None:
            taken.append(one)
        else:
            one._state.adding, one._state.db = False, connection.alias
    return taken


def basis_for(constants: Constants) -> EstimateBasis:
    """The row that names these constants and today's method version."""
    connection.ensure_connection()
    known = _known.setdefault(connection.connection, [])
    kept = next((basis for those, basis in known if those is constants), None)
    if kept is not None:
        return kept
    basis, _ = EstimateBasis.objects.get_or_create(version=METHOD_VERSION, constants=constants.as_stored())
    # Not before it is certain: a transaction that made it may yet be taken back.
    transaction.on_commit(lambda: known.append((constants, basis)))
    return basis


def forget() -> None:
    """What is known of the database is no longer so: all its tables were emptied."""
    _known.clear()
