"""Fields of bodies that name another thing by its key."""

from collections.abc import Callable
from typing import Any

from django.db.models import Model, QuerySet
from rest_framework import serializers

from apiaries.models import Person


class KeyOf(serializers.IntegerField):
    """The key of something that the person may use so; what is hidden or never was is refused in the same words.

    `among` takes the person and returns what they may name. `view.person` asks.
    """

    default_error_messages = {"unknown": "There is none with this key that you may use here."}  # noqa: RUF012

    def __init__(self, among: "Callable[[Person], QuerySet[Any]]", **kwargs: Any) -> None:
        self.among = among
        super().__init__(min_value=1, max_value=2**63 - 1, **kwargs)

    def to_internal_value(self, data: Any) -> Any:
        """The thing itself. A text or a truth value is no key."""
        if isinstance(data, bool | str | float):
            self.fail("invalid")
        found = self.among(self.context["view"].person).filter(pk=super().to_internal_value(data)).first()
        if found is None:
            self.fail("unknown")
        return found

    def run_validators(self, value: Any) -> None:
        """None: the bounds are those of keys, for the description, and it is a thing by now."""

    def to_representation(self, value: Model | int) -> int:
        return int(value.pk if isinstance(value, Model) else value)
