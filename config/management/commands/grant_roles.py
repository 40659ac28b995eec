"""Gives the role of the application its rights: after each migrate, as the owner of the tables."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from config.grants import NotGranted, grant


class Command(BaseCommand):
    """Again is no harm: what a release no longer needs is taken back."""

    help = "Give the role that the service runs as what it needs of the database, and no more."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("role", metavar="ROLE", help="the role that the service runs as")

    def handle(self, *, role: str, **_: Any) -> None:
        try:
            tables = grant(role)
        except NotGranted as error:
            raise CommandError(str(error)) from None
        except DatabaseError as error:
            raise CommandError(f"Nothing was granted: {str(error).strip()}") from None
        self.stdout.write(f"{role} may use {tables} tables, and owns none.")
