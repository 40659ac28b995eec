"""Fields of bodies: another thing named by its key, and lists that may be only so long."""

from collections.abc import Callable
from typing import Any, ClassVar

from django.db.models import Model, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apiaries.models import Person

LARGEST = 2**63 - 1


class ShortList(serializers.ListField):
    """A list of at most `max_length`; every list that the interface takes is one.

    REST framework checks each item before it counts them, and so answers a list of half a million with as many faults.
    """

    def __init__(self, *, max_length: int, **kwargs: Any) -> None:
        self.most = max_length
        super().__init__(max_length=max_length, **kwargs)

    def to_internal_value(self, data: Any) -> list[Any]:
        if isinstance(data, list) and len(data) > self.most:
            self.fail("max_length", max_length=self.most)
        return list(super().to_internal_value(data))


@extend_schema_field({"type": "integer", "minimum": 1})
class KeyOf(serializers.Field[Any, Any, Any, Any]):
    """The key of something that the person may use so; what is hidden or never was is refused in the same words.

    `among` takes the person and returns what they may name. `view.person` asks. It reads as the thing itself.
    """

    default_error_messages: ClassVar = {
        "kind": "A key is a whole number.",
        "unknown": "There is none with this key that you may use here.",
    }

    def __init__(self, among: "Callable[[Person], QuerySet[Any]]", **kwargs: Any) -> None:
        self.among = among
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> Any:
        """The thing itself. A text or a truth value is no key."""
        if not isinstance(data, int) or isinstance(data, bool):
            self.fail("kind")
        # Beyond what the database can hold there is none either.
        found = (
            self.among(self.context["view"].person).filter(pk=data).first() if 0 < data <= LARGEST else None
        )
        if found is None:
            self.fail("unknown")
        return found

    def to_representation(self, value: Model | int) -> int:
        return int(value.pk if isinstance(value, Model) else value)
