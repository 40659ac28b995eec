"""A chain outside of the program: its fingerprint on page and paper, and a checker that shares no code with us."""

import datetime as dt
import json
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Person
from apiaries.paper import Paper
from config.paths import BASE_DIR
from tests.cast import STARTED, Cast
from tests.printed import words_of
from tests.treatments.making import treat
from treatments.chain_actions import head_of
from treatments.chain_file import chain_file
from treatments.medicine_actions import NewPurchase, record_purchase
from treatments.medicine_record import record_of
from treatments.record_pdf import record_pdf

AT = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)
CHECKER = BASE_DIR / "docs" / "reference" / "check_medicine_record.py"
File = dict[str, Any]


def _buy(cast: Cast, product: str) -> None:
    bought = NewPurchase(product=product, bought_on=dt.date(2026, 7, 1), quantity=Decimal(100), unit="g")
    record_purchase(keeper=cast.alice, new=bought, at=AT, by=cast.alice)


@pytest.fixture
def kept(cast: Cast, reference: None) -> Cast:
    """A treatment and a purchase in Alice's record."""
    treat(cast.colonies[:2])
    _buy(cast, "Säure")
    return cast


def _checked(made: bytes, folder: Path, *noted: str) -> tuple[int, str]:
    file = folder / "chain.json"
    file.write_bytes(made)
    # -I and -S: nothing of ours and nothing installed can be imported.
    run = subprocess.run(
        [sys.executable, "-I", "-S", str(CHECKER), str(file), *noted],
        cwd=folder, capture_output=True, text=True,
    )  # fmt: skip
    assert not run.stderr, run.stderr
    return run.returncode, run.stdout


def test_a_fingerprint_that_was_noted_is_found_again(kept: Cast, tmp_path: Path) -> None:
    noted = head_of(kept.alice.pk)
    assert noted
    _buy(kept, "another")

    for fingerprint in (noted.short, noted.hash):
        status, said = _checked(chain_file(kept.alice, kept.alice), tmp_path, fingerprint)
        assert status == 0, said
        assert "3 links, 3 entries" in said
        assert "noted at link 2, 1 came later" in said
        assert "everything agrees" in said


def _cut(file: File) -> None:
    file["links"].pop()
    file["head"] = {name: file["links"][-1][name] for name in ("number", "hash", "at")}
    file["entries"].pop()


SPOILED: dict[str, Callable[[File], None]] = {
    "link 2 was changed": lambda file: file["links"][1].update(what="changed"),
    "link 1 was changed": lambda file: file["links"][0].update(at="2026-01-01T00:00:00.000000Z"),
    "link 2 follows link 0": lambda file: file["links"].pop(0),
    "link 2 does not name": lambda file: file["links"][1].update(previous="a" * 64),
    "the head is not the last link": lambda file: file["head"].update(number=7),
    "is not as link 1 says": lambda file: file["entries"][0].update(text=file["entries"][0]["text"] + " "),
    "is not as link 2 says": lambda file: file["entries"][1].update(salt="0" * 64),
    "has no link": lambda file: file["entries"][1].update(kind="disposal"),
    "the chain is another, or was cut off": _cut,
}


@pytest.mark.parametrize("found", SPOILED)
def test_whatever_was_changed_is_named(kept: Cast, tmp_path: Path, found: str) -> None:
    noted = head_of(kept.alice.pk)
    assert noted
    file = json.loads(chain_file(kept.alice, kept.alice))
    SPOILED[found](file)

    status, said = _checked(json.dumps(file).encode(), tmp_path, noted.short)

    assert status == 1
    assert found in said


def test_an_empty_chain_agrees(cast: Cast, tmp_path: Path) -> None:
    assert _checked(chain_file(cast.alice, cast.alice), tmp_path)[0] == 0


def test_the_file_holds_only_what_its_reader_may_see(kept: Cast, tmp_path: Path) -> None:
    """Bob helps in one of Alice's yards: of the other he gets the links, and no text."""
    yard = add_yard(keeper=kept.alice, region=kept.north, name="Other", by=kept.alice)
    treat(add_numbered_colonies(yard=yard, first=1, last=1, started_on=STARTED, by=kept.alice))

    file = json.loads(chain_file(kept.bob, kept.alice))
    status, said = _checked(json.dumps(file).encode(), tmp_path)

    assert len(file["links"]) == 3
    assert {json.loads(one["text"]).get("yard_id") for one in file["entries"]} == {kept.alice_yard.pk, None}
    assert status == 0
    assert "1 entries are not in this file" in said


def test_page_paper_and_file_show_one_fingerprint(
    kept: Cast, client_for: Callable[[Person | None], Client]
) -> None:
    head = head_of(kept.alice.pk)
    assert head
    client, asked = client_for(kept.alice), {"year": "2026"}
    page = client.get(reverse("treatments:medicine-record"), asked).content.decode()
    file = client.get(reverse("treatments:medicine-record-chain"), asked)
    record = record_of(kept.alice, kept.alice, year=2025, yard=None, on=AT.date())
    paper = words_of(record_pdf(record, paper=Paper.A4, as_of=AT))

    assert file["Content-Disposition"] == 'attachment; filename="medicine-record-chain.json"'
    assert json.loads(file.content)["head"]["hash"] == head.hash
    for shown in (page, paper):
        assert head.short in shown
        assert "has 2 links" in shown
    assert head.hash in page
    assert head.hash in paper.replace(" ", "")


def test_a_record_without_entries_has_no_fingerprint(
    cast: Cast, client_for: Callable[[Person | None], Client]
) -> None:
    page = client_for(cast.alice).get(reverse("treatments:medicine-record")).content.decode()

    assert "Fingerprint" not in page
