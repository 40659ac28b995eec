"""What the parts of a yard's page, and the head of every page, are drawn from that this app brings along."""

from apiaries.brought_along import Along
from apiaries.drawn_from import Rows
from apiaries.models import Person
from reports.models import Suspension

IN_YARD = (
    Rows("reports_putoff", "t.person_id = the_reader"),
    Rows("reports_returnedfile_yards", "t.yard_id = the_yard"),
    Rows("reports_returnedfile", "t.id = ANY(the_files)"),
    Rows(
        "apiaries_person",
        "t.id = ANY(ARRAY(SELECT person_id FROM reports_returnedfile WHERE id = ANY(the_files)))",
    ),
)
LISTS = {"the_files": "SELECT returnedfile_id FROM reports_returnedfile_yards WHERE yard_id = the_yard"}


def _suspended(person: Person, suspension: Suspension | None) -> None:
    Person._meta.get_field("suspension").set_cached_value(person, suspension)


SUSPENDED = Along(Suspension, "suspension", "suspension.person_id = person.id", _suspended)
