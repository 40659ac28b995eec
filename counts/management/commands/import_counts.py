"""Brings a club sheet of counts in. Without --save it only says what it understood."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from apiaries.models import Person
from apiaries.templatetags.recount_words import day, plain
from apiaries.views.asking import today_in
from counts.actions import EntryKeyReused, NotPossible
from counts.import_cells import Options, bees_of_measure, measure_keys
from counts.importing import ImportRow, Status, import_rows, understand
from counts.models import METHOD_WORDS
from counts.samples import Method
from counts.sheets import MOST_BYTES, SheetNotRead, read_sheet

SHOWN = 40


class Command(BaseCommand):
    """Run by the operator. Running it again with the same sheet adds nothing."""

    help = "Import a sheet of counts (CSV: yard, colony, date, method, mites, bees or volume, days, cells)."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="The sheet, saved as CSV.")
        parser.add_argument(
            "--yard-keeper", required=True, metavar="E-MAIL", help="Whose yards the sheet is about."
        )
        parser.add_argument("--by", metavar="E-MAIL", help="Who imports; else the keeper.")
        parser.add_argument(
            "--save", action="store_true", help="Keep the ready rows; else nothing is changed."
        )
        parser.add_argument(
            "--ready-only", action="store_true", help="Keep the ready rows even if others are errors."
        )
        parser.add_argument(
            "--with-looks", action="store_true", help="Also keep rows that need a look: yes, they are right."
        )
        parser.add_argument(
            "--method", choices=[method.value for method in Method], help="Where the sheet names none."
        )
        parser.add_argument(
            "--measure", choices=measure_keys(), help="What each jar held, where no bees are named."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        keeper = _person(options["yard_keeper"])
        by = _person(options["by"]) if options["by"] else keeper
        if keeper.membership is None:
            raise CommandError(f"{keeper.email} belongs to no club.")
        rows = self._understood(keeper, by, options)
        self._show(rows)
        errors = sum(1 for row in rows if row.status is Status.ERROR)
        if options["save"] and (not errors or options["ready_only"]):
            self._save(rows, by, with_looks=options["with_looks"])
        elif options["save"]:
            self.stdout.write(
                "Nothing was saved. Mend the errors, or keep only the ready rows with --ready-only."
            )
        else:
            self.stdout.write("Nothing was saved: this was a look only. Add --save to keep the ready rows.")
        if errors:
            raise CommandError(f"{errors} {'row has' if errors == 1 else 'rows have'} errors.", returncode=1)

    def _understood(self, keeper: Person, by: Person, options: dict[str, Any]) -> list[ImportRow]:
        club = keeper.membership.club if keeper.membership else None
        if club is None:
            return []
        measure = bees_of_measure(options["measure"], club) if options["measure"] else None
        method = Method(options["method"]) if options["method"] else None
        settings = Options(club=club, today=today_in(club), method=method, measure=measure)
        try:
            sheet = read_sheet(_bytes(options["file"]))
        except SheetNotRead as error:
            raise CommandError(str(error)) from error
        known = ", ".join(f"{column} (“{heading}”)" for column, heading in sheet.columns.items())
        self.stdout.write(f"Columns: {known}")
        if sheet.unknown:
            self.stdout.write(f"Left aside: {', '.join(sheet.unknown)}")
        return understand(sheet, keeper=keeper, by=by, options=settings)

    def _show(self, rows: list[ImportRow]) -> None:
        """The first rows as understood, then every row that is not simply ready."""
        self.stdout.write(
            f"{'row':>5}  {'status':<13} {'colony':<12} {'date':<12} {'method':<13} what was counted"
        )
        for row in rows[:SHOWN]:
            self.stdout.write(_line(row))
        if len(rows) > SHOWN:
            self.stdout.write(f"… and {len(rows) - SHOWN:,} more")
        for row in rows:
            for column, words in row.reasons:
                place = f"row {row.number}, {column}" if column else f"row {row.number}"
                self.stdout.write(f"{place}: {row.status}: {words}")
        number = {status: sum(1 for row in rows if row.status is status) for status in Status}
        self.stdout.write(", ".join(f"{count:,} {status}" for status, count in number.items()))

    def _save(self, rows: list[ImportRow], by: Person, *, with_looks: bool) -> None:
        try:
            kept = import_rows(rows, at=timezone.now(), by=by, with_looks=with_looks)
        except (NotPossible, EntryKeyReused) as error:
            raise CommandError(f"Nothing was saved: {error}") from error
        self.stdout.write(f"{len(kept):,} {'count' if len(kept) == 1 else 'counts'} saved.")


def _line(row: ImportRow) -> str:
    cells = row.cells
    method = METHOD_WORDS[cells.method] if cells.method else "?"
    colony = row.count.colony.name if row.count else "–"
    return f"{row.number:>5}  {row.status:<13} {colony:<12} {day(cells.day) or '?':<12} {method:<13} {_counted(row)}"


def _counted(row: ImportRow) -> str:
    cells = row.cells
    if cells.mites is None:
        return "not counted"
    if cells.board_days is not None:
        part = f" on {cells.cells_counted} of {cells.cells_total} cells" if cells.cells_total else ""
        return f"{cells.mites} in {plain(cells.board_days)} days{part}"
    if cells.bees is not None:
        return f"{cells.mites} in {cells.bees} bees"
    return f"{cells.mites} of {cells.cells_counted or '?'} cells"


def _person(email: str) -> Person:
    person = Person.objects.filter(email=email.strip().lower()).first()
    if person is None:
        raise CommandError(f"Nobody here has the address {email}.")
    return person


def _bytes(path: Path) -> bytes:
    """The file, no more of it than is needed to see that it is too big."""
    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1)
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}.") from error
