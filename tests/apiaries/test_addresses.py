"""Addresses of things by their key are Django's."""

import pytest
from django.template import Context, Template
from django.urls import NoReverseMatch, reverse

from apiaries.addresses import address_of

NAMES = ["apiaries:colony-detail", "counts:sample-add", "counts:sample-detail", "treatments:outcome"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("key", [1, 23, 2**31])
def test_address_is_the_one_that_django_gives(name: str, key: int) -> None:
    drawn = Template("{% load recount_words %}{% address name key %}").render(
        Context({"name": name, "key": key})
    )

    assert drawn == address_of(name, key) == reverse(name, args=[key])


def test_nothing_but_a_number_gets_into_an_address() -> None:
    with pytest.raises(ValueError, match="invalid literal"):
        address_of(NAMES[0], "1/?x=")  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["treatments:round-out", "apiaries:yard-list", "nowhere"])
def test_address_that_takes_something_else_is_refused(name: str) -> None:
    with pytest.raises(NoReverseMatch):
        address_of(name, 1)
