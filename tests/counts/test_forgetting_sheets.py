"""An open sheet of a coordinator goes where it holds something of somebody who is forgotten, and only there."""

import datetime as dt
from io import BytesIO

import pytest
from openpyxl import Workbook

from apiaries.models import Club, Person
from counts.forgetting import put_sheets_aside
from counts.models import ImportBatch, ImportRow, ImportState, ImportWork
from tests.cast import Cast

AT = dt.datetime(2026, 9, 30, 12, tzinfo=dt.UTC)
NAME = "Älice Amber & Co"


def _workbook(cell: str) -> bytes:
    book = Workbook()
    book.active.append(["keeper", "mites"])
    book.active.append([cell, 3])
    file = BytesIO()
    book.save(file)
    return file.getvalue()


@pytest.fixture
def leaver(cast: Cast) -> Person:
    """Alice, with a name that files spell in several ways."""
    Person.objects.filter(pk=cast.alice.pk).update(name=NAME, email="alice@club.example")
    cast.alice.refresh_from_db()
    return cast.alice


def _open(club: Club, by: Person, data: bytes, state: ImportState = ImportState.LOOK) -> ImportBatch:
    batch = ImportBatch.objects.create(
        club=club, by=by, at=AT, file_name="club.csv", size=len(data), sha256="0", state=state
    )
    ImportWork.objects.create(batch=batch, data=data)
    return batch


def _stands(batch: ImportBatch) -> bool:
    batch.refresh_from_db()
    kept = ImportWork.objects.filter(pk=batch.pk).exists()
    assert kept == (batch.state != ImportState.REFUSED)
    return kept


@pytest.mark.parametrize("state", [ImportState.READING, ImportState.LOOK, ImportState.FAILED])
@pytest.mark.parametrize(
    "data",
    [
        f"keeper;mites\n{NAME};3\n".encode(),
        f"keeper;mites\n{NAME.lower()};3\n".encode("cp1252"),
        f"keeper;mites\n{NAME};3\n".encode("utf-16"),
        b"mail;mites\nAlice@Club.example;3\n",
        _workbook(NAME),
    ],
    ids=["utf-8", "cp1252", "utf-16", "address", "workbook"],
)
def test_open_sheet_with_their_name_in_the_file_is_put_aside(
    cast: Cast, leaver: Person, data: bytes, state: ImportState
) -> None:
    batch = _open(cast.club, cast.dana, data, state)

    put_sheets_aside(leaver, AT)

    assert not _stands(batch)


def test_open_sheet_with_a_row_of_their_yard_is_put_aside(cast: Cast, leaver: Person) -> None:
    batch = _open(cast.club, cast.dana, b"yard;mites\nHome yard;3\n")
    ImportRow.objects.create(
        batch=batch, number=2, status="ready", cells=["Home yard", "3"], yard=cast.alice_yard
    )

    put_sheets_aside(leaver, AT)

    assert not _stands(batch)
    assert not ImportRow.objects.exists()


@pytest.mark.parametrize(
    "data",
    [b"mail;mites\nmalice@club.example;3\n", _workbook("malice@club.example"), b"PK\x03\x04 no workbook"],
    ids=["text", "workbook", "damaged"],
)
def test_sheets_about_others_stay(cast: Cast, leaver: Person, data: bytes) -> None:
    batch = _open(cast.club, cast.dana, data)

    put_sheets_aside(leaver, AT)

    assert _stands(batch)
