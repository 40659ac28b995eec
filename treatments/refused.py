"""What a constraint of PostgreSQL refuses, told as an error of ours."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import IntegrityError, transaction


@contextmanager
def refused_as(told: Exception, *constraints: str) -> Iterator[None]:
    """Raise `told` where one of these constraints, or words of their names, refuses; what was done within is undone."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        if any(name in str(error) for name in constraints):
            raise told from error
        raise
