"""Brings a club sheet of counts in. Without --save it only says what it understood."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from apiaries.models import Person
from apiaries.templatetags.recount_words import day
from counts.imports.actions import (
    ChangedMeanwhile,
    NothingReady,
    agree_to_rows,
    bring_in_sheet,
    take_in_sheet,
)
from counts.imports.columns import Column, plain
from counts.imports.days import DayOrder
from counts.imports.presenting import counted_words
from counts.imports.reasons import reason_from, sentence_of
from counts.imports.refusing import refusal_words
from counts.imports.said import Said
from counts.imports.working import measure_keys, read_batch
from counts.models import METHOD_WORDS, ImportBatch, ImportRow
from counts.samples import Method
from counts.tables.limits import MOST_CSV_BYTES

SHOWN = 40


class Command(BaseCommand):
    """Run by the operator. Running it again with the same sheet adds nothing."""

    help = "Import a sheet of counts, CSV or XLSX (yard, colony, date, method, mites, bees or volume, days, cells)."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="The sheet.")
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
        parser.add_argument(
            "--days",
            choices=[order.value for order in DayOrder],
            help="Which comes first in 03/04/26, where the sheet does not show it.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        keeper = _person(options["yard_keeper"])
        by = _person(options["by"]) if options["by"] else keeper
        with transaction.atomic():
            batch = self._understood(keeper, by, options)
            self._show(batch)
            saves = options["save"] and (not batch.errors or options["ready_only"])
            if saves:
                self._save(batch, by, with_looks=options["with_looks"])
            transaction.set_rollback(not saves)
        if not options["save"]:
            self.stdout.write("Nothing was saved: this was a look only. Add --save to keep the ready rows.")
        elif not saves:
            self.stdout.write(
                "Nothing was saved. Mend the errors, or keep only the ready rows with --ready-only."
            )
        if batch.errors:
            wrong = f"{batch.errors} {'row has' if batch.errors == 1 else 'rows have'} errors."
            raise CommandError(wrong, returncode=1)

    def _understood(self, keeper: Person, by: Person, options: dict[str, Any]) -> ImportBatch:
        if keeper.membership is None:
            raise CommandError(f"{keeper.email} belongs to no club.")
        said = Said(
            method=Method(options["method"]) if options["method"] else None,
            measure=options["measure"],
            order=DayOrder(options["days"]) if options["days"] else None,
        )
        batch = take_in_sheet(
            club=keeper.membership.club,
            name=options["file"].name,
            data=_bytes(options["file"]),
            said=said,
            at=timezone.now(),
            by=by,
            keeper=keeper,
        )
        read_batch(batch)
        if batch.refusal:
            raise CommandError(refusal_words(batch.refusal))
        headings, columns = batch.taken_for["headings"], batch.taken_for["columns"]
        if missing := [column for column, places in batch.taken_for["unclear"] if not places]:
            raise CommandError(
                f"No column for {' and '.join(missing)} was found. Headings are: {', '.join(filter(None, headings))}."
            )
        if unclear := batch.taken_for["unclear"]:
            column, places = unclear[0]
            names = " or ".join(f"“{headings[place]}”" for place in places)
            raise CommandError(
                f"Which column is {column}: {names}? Rename the other, or import on the web page."
            )
        known = ", ".join(f"{Column(one)} (“{headings[int(at)]}”)" for at, (one, _) in columns.items())
        self.stdout.write(f"Columns: {known}")
        aside = [name for at, name in enumerate(headings) if plain(name) and str(at) not in columns]
        if aside:
            self.stdout.write(f"Left aside: {', '.join(aside)}")
        return batch

    def _show(self, batch: ImportBatch) -> None:
        """The first rows as understood, then every row that is not simply ready."""
        self.stdout.write(
            f"{'row':>5}  {'status':<13} {'colony':<12} {'date':<12} {'method':<13} what was counted"
        )
        rows = batch.staged.select_related("colony")
        for row in rows[:SHOWN]:
            self.stdout.write(_line(row))
        if batch.rows > SHOWN:
            self.stdout.write(f"… and {batch.rows - SHOWN:,} more")
        for row in rows.exclude(reasons=[]).iterator():
            for reason in map(reason_from, row.reasons):
                place = f"row {row.number}, {reason.column}" if reason.column else f"row {row.number}"
                self.stdout.write(f"{place}: {row.get_status_display()}: {sentence_of(reason)}")
        self.stdout.write(
            f"{batch.ready:,} ready, {batch.look:,} needs a look, {batch.errors:,} error, {batch.here:,} already here"
        )

    def _save(self, batch: ImportBatch, by: Person, *, with_looks: bool) -> None:
        if with_looks:
            numbers = batch.staged.filter(status="look").values_list("number", flat=True)
            agree_to_rows(batch=batch, numbers=set(numbers), by=by)
        try:
            brought = bring_in_sheet(batch=batch, at=timezone.now(), by=by).brought
        except ChangedMeanwhile as error:
            raise CommandError(
                "Nothing was saved: yards or colonies changed meanwhile. Run it again."
            ) from error
        except NothingReady:
            brought = 0
        self.stdout.write(f"{brought:,} {'count' if brought == 1 else 'counts'} saved.")


def _line(row: ImportRow) -> str:
    method = str(METHOD_WORDS[Method(row.method)]) if row.method else "?"
    colony = row.colony.name if row.colony else "–"
    status = str(row.get_status_display())
    counted = counted_words(row)
    return (
        f"{row.number:>5}  {status:<13} {colony:<12} {day(row.sampled_on) or '?':<12} {method:<13} {counted}"
    )


def _person(email: str) -> Person:
    person = Person.objects.filter(email=email.strip().lower()).first()
    if person is None:
        raise CommandError(f"Nobody here has the address {email}.")
    return person


def _bytes(path: Path) -> bytes:
    """The file, no more of it than is needed to see that it is too big."""
    try:
        with path.open("rb") as file:
            return file.read(MOST_CSV_BYTES + 1)
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}.") from error
