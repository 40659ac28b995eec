"""Which licences pass: what packages say, in old words and new, and exceptions that hold for one licence only."""

from email.message import Message

import pytest

from tests.supply.licences import EXCEPTIONS, allowed, judge, lines, says


def package(*fields: tuple[str, str]) -> Message:
    made = Message()
    for name, value in fields:
        made[name] = value
    return made


@pytest.mark.parametrize(
    "expression, passes",
    [
        ("MIT", True),
        ("Apache-2.0 OR GPL-3.0-only", True),
        ("(MIT OR GPL-3.0-only) AND BSD-3-Clause", True),
        ("MIT AND GPL-3.0-only", False),
        ("AGPL-3.0-only", False),
        ("", False),
        ("MIT with a twist", False),
    ],
)
def test_expression(expression: str, passes: bool) -> None:
    assert allowed(expression) is passes


def test_what_a_package_says_is_looked_for_in_three_places() -> None:
    old = ("Classifier", "License :: OSI Approved :: MIT License")

    assert says(package(("License-Expression", "BSD-3-Clause"), old)) == "BSD-3-Clause"
    assert says(package(old, ("License", "GPL"))) == "MIT"
    assert says(package(("License", "Apache 2.0\nand its whole text"))) == "Apache-2.0"
    assert says(package(("Name", "silent"))) == ""


def test_exception_does_not_hold_for_another_licence() -> None:
    assert judge("psycopg", package(("License-Expression", "LGPL-3.0-only"))).allowed
    assert not judge("psycopg", package(("License-Expression", "AGPL-3.0-only"))).allowed


def test_every_pinned_package_may_be_used() -> None:
    assert {one.name: one.says for one in lines() if not one.allowed} == {}


def test_every_exception_is_needed() -> None:
    found = {one.name.lower().replace("_", "-"): one for one in lines()}

    assert set(EXCEPTIONS) <= set(found)
    assert {name for name, (licence, _) in EXCEPTIONS.items() if allowed(licence)} == set()
