"""Carries out the lists of `registry`, set by set: the rows, then their histories.

A history is written by triggers, so rows are changed first and the history after them: what the triggers write is
rewritten with all that was there before.
"""

import re
from collections import Counter
from collections.abc import Collection, Iterable
from contextlib import suppress
from dataclasses import dataclass
from email.header import Header
from typing import Any, cast

from allauth.account.models import EmailAddress
from django.apps import apps
from django.contrib.postgres.fields import ArrayField
from django.db import connection, models
from django.db.models import Case, F, Func, Q, Value, When
from pghistory.models import Context
from pgtrigger import ignore

from apiaries.forgetting.registry import FORMER, Column, Fate, history_of, registry, tracked_by
from apiaries.models import Person

SHORTEST_NAME = 5
"""Letters: a name of one word, or a shorter one, is looked for nowhere else. It would be found in other words."""
Tally = Counter[str]


@dataclass(frozen=True)
class Traces:
    """What the person is known by: every address they ever had here, and their whole names."""

    addresses: frozenset[str]
    names: frozenset[str]

    def pattern(self) -> str:
        """For PostgreSQL: any of them as whole words, whatever the case. Empty when there is nothing to look for."""
        words = sorted([*self.addresses, *(name for name in self.names if _tells_apart(name))])
        any_of_them = "|".join(_escaped(word) for word in words)
        return f"(?<![[:alnum:]])({any_of_them})(?![[:alnum:]])" if words else ""

    def address_in(self, text: str) -> bool:
        """Whether an address of theirs stands there as a whole, as letters or as JSON and mail spell them."""
        spelled = {spelling for address in self.addresses for spelling in _spellings(address)}
        return _found(spelled, text)

    def any_in(self, text: str) -> bool:
        """Whether an address or a whole name of theirs stands there."""
        return self.address_in(text) or _found(self.whole_names(), text)

    def whole_names(self) -> frozenset[str]:
        """Those that are hardly anything else in somebody's file."""
        return frozenset(name for name in self.names if _tells_apart(name))


NO_TRACES = Traces(frozenset(), frozenset())


def traces_of(person: Person) -> Traces:
    """From the row, its history and the addresses of signing in."""
    (events,) = history_of(Person)
    past = events._default_manager.filter(pgh_obj=person.pk).values_list("email", "name")
    rows = [(person.email, person.name), *past]
    mails = EmailAddress.objects.filter(user=person).values_list("email", flat=True)
    addresses = {address.lower() for address, _ in rows} | {address.lower() for address in mails}
    return Traces(
        frozenset(address for address in addresses if address and not address.endswith("@forgotten.invalid")),
        frozenset(name for _, name in rows if name != FORMER),
    )


def wipe(person: Person, traces: Traces) -> Tally:
    """Empty, replace and remove all that is listed; how many rows of which table changed. Twice changes nothing."""
    tally: Tally = Counter()
    histories = [model for model in apps.get_models() if tracked_by(model) is not None]
    # In files that others brought the name may stand for somebody without an account.
    Person.objects.filter(known_to__isnull=False, name__in=traces.whole_names()).update(name=FORMER)
    for history in history_of(Person):
        history._default_manager.filter(known_to__isnull=False, name__in=traces.whole_names()).update(
            name=FORMER
        )
    with ignore("reports.Bulletin:issued_stays"):
        for label in registry.columns:
            _set_columns(apps.get_model(label), person.pk, traces, tally)
        for label, whose in registry.rows_gone:
            _remove(apps.get_model(label), whose, person.pk, tally)
        for model in histories:
            _set_columns(model, person.pk, traces, tally)
        _forget_reasons(histories, person.pk, tally)
        if pattern := traces.pattern():
            for model in apps.get_models():
                _replace_mentions(model, pattern, tally)
    return tally


def _set_columns(model: type[models.Model], pk: int, traces: Traces, tally: Tally) -> None:
    """Columns with the same ways to the person at one go: a constraint may tie them together."""
    together: dict[tuple[tuple[str, ...], bool], dict[str, Column]] = {}
    for name, column in registry.columns_of(model).items():
        if column.fate in (Fate.EMPTIED, Fate.REPLACED) and not column.elsewhere:
            together.setdefault((column.whose, column.by_address), {})[name] = column
    for (whose, by_address), columns in together.items():
        if not (whose or by_address):
            continue
        wrong, fresh = Q(), {}
        for name, column in columns.items():
            to = column.value_for(pk)
            stands = Q(**{f"{name}__isnull": False}) if to is None else ~Q(**{name: to})
            if column.fate is Fate.REPLACED:
                stands &= ~Q(**{name: ""})
            wrong |= stands
            kind = cast("models.Field[Any, Any]", model._meta.get_field(name))
            then = Value(to, output_field=kind)
            fresh[name] = (
                Case(When(stands, then=then), default=F(name), output_field=kind) if to is not None else None
            )
        names = list(columns) if by_address else []
        rows = model._default_manager.filter(_theirs(model, whose, names, pk, traces) & wrong)
        # By key: a set that is reached over other tables cannot be updated in one go.
        tally[model._meta.db_table] += model._default_manager.filter(pk__in=rows.values("pk")).update(**fresh)


def _theirs(
    model: type[models.Model], whose: Iterable[str], addresses: Iterable[str], pk: int, traces: Traces
) -> Q:
    """Rows of the person; of a history also those of rows that are the person's now."""
    tracked = tracked_by(model)
    found = Q(pk__in=[])
    for way in whose:
        if way == "pk":
            found |= Q(pgh_obj=pk) if tracked else Q(pk=pk)
            continue
        found |= Q(**{way: pk})
        if tracked is not None:
            found |= Q(pgh_obj__in=tracked._default_manager.filter(**{way: pk}).values("pk"))
    for name in addresses:
        found |= Q(**{f"{name}__in": traces.addresses})
    return found


def _remove(model: type[models.Model], whose: Iterable[str], pk: int, tally: Tally) -> None:
    """The rows, and their history with them, in which the last thing is that they went."""
    theirs = Q(pk__in=[])
    for way in whose:
        theirs |= Q(**{way: pk})
    keys = set(model._default_manager.filter(theirs).values_list("pk", flat=True))
    model._default_manager.filter(pk__in=keys).delete()
    tally[model._meta.db_table] += len(keys)
    for history in history_of(model):
        # Of those that went before, only the history still knows whose they were.
        before = history._default_manager.filter(_theirs(history, whose, (), pk, NO_TRACES))
        keys |= set(before.values_list("pgh_obj", flat=True))
        went, _ = history._default_manager.filter(pgh_obj__in=keys).delete()
        tally[history._meta.db_table] += went


def _forget_reasons(histories: Iterable[type[models.Model]], pk: int, tally: Tally) -> None:
    """What was typed beside a change and is kept with the history alone: by the person, or about rows of theirs."""
    told = set(Context.objects.filter(metadata__by=pk, metadata__has_key="why").values_list("pk", flat=True))
    for model in histories:
        ways = {way for column in registry.columns_of(model).values() for way in column.whose}
        if ways:
            rows = model._default_manager.filter(_theirs(model, ways, (), pk, NO_TRACES))
            why = rows.filter(pgh_context__metadata__has_key="why")
            told |= set(why.values_list("pgh_context", flat=True))
    without = Func(F("metadata"), Value("why"), template="(%(expressions)s)", arg_joiner=" - ")
    tally[Context._meta.db_table] += Context.objects.filter(pk__in=told).update(metadata=without)


def _replace_mentions(model: type[models.Model], pattern: str, tally: Tally) -> None:
    """Where others could write about the person: the whole name or an address gives way to neutral words."""
    names = [name for name, column in registry.columns_of(model).items() if column.free]
    quote = connection.ops.quote_name
    for one in (field for field in model._meta.local_concrete_fields if field.name in names):
        table, column = quote(model._meta.db_table), quote(one.column or one.name)
        told = f"regexp_replace({column}::text, %s, %s, 'gi')"
        if isinstance(one, models.CharField) and one.max_length:
            told = f"left({told}, {one.max_length})"
        elif isinstance(one, models.JSONField):
            told = f"({told})::jsonb"
        elif isinstance(one, ArrayField):
            told = f"({told})::text[]"
        with connection.cursor() as cursor:
            cursor.execute(
                f"UPDATE {table} SET {column} = {told} WHERE {column}::text ~* %s",  # noqa: S608  (our own names)
                [pattern, FORMER.lower(), pattern],
            )
            tally[model._meta.db_table] += cursor.rowcount


def _tells_apart(name: str) -> bool:
    return len(name) >= SHORTEST_NAME and len(name.split()) > 1


def _escaped(word: str) -> str:
    return re.sub(r"([^\w\s@-])", r"\\\1", word)


def _found(words: Collection[str], text: str) -> bool:
    """As whole words, whatever the case; a line's end may stand before them as JSON writes it."""
    any_of_them = "|".join("".join(_either(letter) for letter in word) for word in sorted(words))
    whole = rf"(?:(?<![^\W_])|(?<=\\[nrt]))(?:{any_of_them})(?![^\W_])"
    return bool(words) and re.search(whole, text, re.IGNORECASE) is not None


def _either(letter: str) -> str:
    """The letter itself, or its escape in JSON, however often that was escaped again."""
    if letter.isascii():
        return re.escape(letter)
    units = [one.encode("utf-16-be").hex(" ", 2).split() for one in (letter, letter.upper())]
    return "|".join(("(?:" + letter, *("".join(rf"\\+u{unit}" for unit in one) for one in units))) + ")"


def _spellings(address: str) -> set[str]:
    """As it is typed, and as it stands in the head of a mail (RFC 2047, RFC 3490)."""
    local, _, domain = address.rpartition("@")
    spelled = {address}
    with suppress(UnicodeError):  # no name that a mail could be sent to
        at = domain.encode("idna").decode()
        spelled.add(f"{local if local.isascii() else Header(local, 'utf-8').encode()}@{at}")
    return spelled
