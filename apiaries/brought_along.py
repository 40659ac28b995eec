"""Who is signed in comes along with the session: in one statement what took four, in front of every page.

Whether the session is theirs and still holds is asked as ever (`config.middleware.KnowsWhoAsks`). What came along is
only what would be read anyway, a moment later.
"""

import datetime as dt
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice
from typing import Any

from allauth.mfa.models import Authenticator
from django.contrib.sessions.models import Session
from django.db import connection
from django.db.models import Field, Model

from apiaries.in_database import InDatabase
from apiaries.models import Club, Membership, Person, SignIn


@dataclass(frozen=True, slots=True)
class Along:
    """A row of another table that pages ask of whoever is signed in, `name` in SQL.

    `joins`: the condition under which it is theirs, true of one row at most; the person's row is called `person`.
    `attach`: hands it to the person, or None where there is none. `fields`: not all of it, but these.
    """

    model: type[Model]
    name: str
    joins: str
    attach: Callable[[Person, Any], None]
    fields: tuple[str, ...] = ()

    def columns(self) -> "list[Field[Any, Any]]":
        return _columns(self.model, self.fields)


def _columns(model: type[Model], only: Collection[str] = ()) -> "list[Field[Any, Any]]":
    return [one for one in model._meta.concrete_fields if not only or one.attname in only]


def _is_member(person: Person, membership: Membership | None) -> None:
    person.membership = membership


def _of_club(person: Person, club: Club | None) -> None:
    if person.membership is not None and club is not None:
        person.membership.club = club


def _second_step(person: Person, authenticator: Authenticator | None) -> None:
    person.has_totp = authenticator is not None


@dataclass
class BroughtAlong:
    """What all apps want to come along."""

    along: list[Along] = field(default_factory=list)

    def register(self, along: Along) -> None:
        if along not in self.along:
            self.along.append(along)

    @cached_property
    def parts(self) -> "list[tuple[str, type[Model], list[Field[Any, Any]]]]":
        """What a row of the answer is made of, in this order: the name in SQL, what it is, and its columns."""
        first: list[type[Model]] = [Session, SignIn, Person]
        own = [(kind._meta.model_name or "", kind, _columns(kind)) for kind in first]
        return [*own, *((one.name, one.model, one.columns()) for one in self.along)]

    @cached_property
    def function(self) -> InDatabase:
        """Once all apps have registered. There is an index for each thing that it joins by."""
        gives = ["versions text"]
        rows = []
        for name, kind, fields in self.parts:
            if len(fields) == len(kind._meta.concrete_fields):
                gives.append(f"{name} {kind._meta.db_table}")
                rows.append(name)
            else:
                gives += [f"{name}_{one.column} {one.db_type(connection)}" for one in fields]
                rows += [f"{name}.{one.column}" for one in fields]
        # No page tells of the session or of when it was last used.
        versions = ", ".join(f"{name}.xmin, {name}.ctid" for name, *_ in self.parts[2:])
        joins = "\n".join(
            f"    LEFT JOIN {one.model._meta.db_table} {one.name} ON {one.joins}" for one in self.along
        )
        body = f"""
#variable_conflict use_column
BEGIN
  RETURN QUERY SELECT ROW({versions})::text, {", ".join(rows)}
    FROM {Session._meta.db_table} session
    LEFT JOIN {SignIn._meta.db_table} signin ON signin.session_key = session.session_key
    LEFT JOIN {Person._meta.db_table} person ON person.id = signin.person_id
{joins}
    WHERE session.session_key = the_key AND session.expire_date > the_moment;
END
"""  # noqa: S608  (names of tables and columns stand in this program)
        takes = "the_key text, the_moment timestamptz"
        return InDatabase("session_brings_along", takes, f"TABLE ({', '.join(gives)})", body)

    @cached_property
    def statement(self) -> str:
        """One row or none."""
        columns = [
            f"({name}).{one.column}"
            if len(fields) == len(kind._meta.concrete_fields)
            else f"{name}_{one.column}"
            for name, kind, fields in self.parts
            for one in fields
        ]
        return f"SELECT versions, {', '.join(columns)} FROM {self.function.name}(%s, %s)"  # noqa: S608  (as above)

    def ask(self, session_key: str, *, at: dt.datetime) -> tuple[Session | None, Person | None]:
        """The session, if there is one that has not run out, and who signed in by it, as their sign-in says."""
        with connection.cursor() as cursor:
            cursor.execute(self.statement, (session_key, at))
            row = cursor.fetchone()
        if row is None:
            return None, None
        versions, *values = row
        session, sign_in, person, *others = self._made(iter(values))
        if person is not None:
            person.sign_in = sign_in
            for one, found in zip(self.along, others, strict=True):
                one.attach(person, found)
            person.shell_version = versions
        return session, person

    def _made(self, values: Iterator[Any]) -> Iterator[Any]:
        for _, kind, fields in self.parts:
            names = [one.attname for one in fields]
            of_row = tuple(islice(values, len(fields)))
            there = of_row[names.index(kind._meta.pk.attname)] is not None
            yield kind.from_db(connection.alias, names, of_row) if there else None


brought_along = BroughtAlong()
brought_along.register(
    Along(
        Membership,
        "membership",
        "membership.person_id = person.id AND membership.ended_at IS NULL",
        _is_member,
    )
)
brought_along.register(Along(Club, "club", "club.id = membership.club_id", _of_club))
brought_along.register(
    Along(
        Authenticator,
        "totp",
        f"totp.user_id = person.id AND totp.type = '{Authenticator.Type.TOTP}'",
        _second_step,
        fields=("id",),  # and not the seed
    )
)
