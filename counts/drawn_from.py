"""What the parts of a yard's page are drawn from that this app brings along."""

from apiaries.drawn_from import Rows

IN_YARD = (
    Rows("counts_mitesample", "t.colony_id IN (SELECT id FROM bees)"),
    Rows("counts_actionlevel"),
    Rows("counts_countweek", "t.club_id = %(club)s"),
    Rows("counts_countleftout", "t.yard_id = %(yard)s"),
)
COUNTED_IN_YARD = "SELECT colony_id FROM counts_mitesample WHERE yard_id = %(yard)s"
"""Also colonies that stand elsewhere by now."""
