"""Where sessions are kept: Django's own table. Who is signed in comes along when one is read."""

from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseSessionStore
from django.contrib.sessions.models import Session
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from apiaries.brought_along import brought_along
from apiaries.models import Person


class SessionStore(DatabaseSessionStore):
    """As Django's, but for what comes along."""

    _came_along: Person | None = None

    def _get_session_from_db(self) -> Session | None:
        """Django's one place where a row of the table is read."""
        session, self._came_along = brought_along.ask(str(self.session_key), at=timezone.now())
        if session is None:
            self._session_key = None
        return session

    def person(self, backends: list[str]) -> Person | None:
        """Who came along, if this is their session by the same signs that Django goes by (`auth.get_user`).

        None says nothing: the key may have changed, or the sign-in be older than its row. Django then asks itself.
        """
        backend, signs = self.get(BACKEND_SESSION_KEY), self.get(HASH_SESSION_KEY, "")  # reads it, if need be
        person = self._came_along
        if person is None or not person.is_active or backend not in backends:
            return None
        theirs = constant_time_compare(signs, person.get_session_auth_hash())
        return person if theirs and self.get(SESSION_KEY) == str(person.pk) else None
