"""How accounts are made and found."""

from typing import TYPE_CHECKING, Any

from django.contrib.auth.base_user import BaseUserManager

if TYPE_CHECKING:
    from apiaries.models.people import Person


class PersonManager(BaseUserManager["Person"]):
    """Makes people; an e-mail is kept in lower case so that one person is one row."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "Person":
        person: Person = self.model(email=email.strip().lower(), **fields)
        person.set_password(password)
        person.save()
        return person

    def get_by_natural_key(self, email: str | None) -> "Person":
        return self.get(email=(email or "").lower())
