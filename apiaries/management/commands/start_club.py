"""The first step of a new installation: a club with its administrator."""

from typing import Any

from allauth.account.models import EmailAddress
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.urls import reverse

from apiaries.actions import add_person, add_region, found_club
from apiaries.models import Club, Person


class Command(BaseCommand):
    """Run by the operator. Running it again changes nothing and says so."""

    help = "Start a club and its first administrator, who then invites everybody else."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="The club's name, in quotes.")
        parser.add_argument("--time-zone", required=True, help="Such as Europe/Berlin.")
        parser.add_argument("--administrator", required=True, metavar="E-MAIL", help="Who sets the club up.")
        parser.add_argument(
            "--administrator-name", default="", help="Their name; else the part before the @."
        )
        parser.add_argument(
            "--region", action="append", default=[], help="A region; may be given several times."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        name, email = " ".join(options["name"].split()), options["administrator"].strip().lower()
        if Club.objects.filter(name=name).exists():
            self.stdout.write(f"{name} is here already. Nothing was changed.")
            return
        try:
            with transaction.atomic():
                self._start(name, email, options)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        site = settings.SITE_URL
        self.stdout.write(
            f"{name} is started, with {email} as its administrator.\n"
            f"First sign-in: {site}{reverse('account_login')}, “Mail me a code instead”.\n"
            f"Or set a password: {site}{reverse('account_reset_password')}\n"
            f"Then add regions ({site}{reverse('apiaries:club-edit')}) and invite members "
            f"({site}{reverse('apiaries:invitation-add')})."
        )

    def _start(self, name: str, email: str, options: dict[str, Any]) -> None:
        zone = options["time_zone"]
        person = Person.objects.filter(email=email).first()
        if person is None:
            person = add_person(
                email=email, name=options["administrator_name"] or email.partition("@")[0], time_zone=zone
            )
        elif person.membership is not None:
            raise CommandError(f"{email} belongs to {person.membership.club} already. Name somebody else.")
        # The operator's word stands for the address; each way to sign in proves it again.
        EmailAddress.objects.get_or_create(
            user=person, email=email, defaults={"primary": True, "verified": True}
        )
        club = found_club(name=name, time_zone=zone, administrator=person)
        for region in options["region"]:
            add_region(club=club, name=region, by=person)
