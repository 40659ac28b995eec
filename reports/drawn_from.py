"""What the parts of a yard's page are drawn from that this app brings along."""

from apiaries.drawn_from import Rows

_FILES = "SELECT returnedfile_id FROM reports_returnedfile_yards WHERE yard_id = %(yard)s"
_BROUGHT_BY = f"SELECT person_id FROM reports_returnedfile WHERE id IN ({_FILES})"  # noqa: S608  (ours)
IN_YARD = (
    Rows("reports_putoff", "t.person_id = %(reader)s"),
    Rows("reports_returnedfile_yards", "t.yard_id = %(yard)s"),
    Rows("reports_returnedfile", f"t.id IN ({_FILES})"),
    Rows("apiaries_person", f"t.id IN ({_BROUGHT_BY})"),
)
