"""What the parts of a yard's page are drawn from that this app brings along."""

from apiaries.drawn_from import Rows

IN_YARD = (
    Rows("counts_mitesample", "t.colony_id = ANY(the_bees)"),
    Rows("counts_actionlevel"),
    Rows("counts_countweek", "t.club_id = the_club"),
    Rows("counts_countleftout", "t.yard_id = the_yard"),
)
LISTS = {"the_bees": "SELECT colony_id FROM counts_mitesample WHERE yard_id = the_yard"}
"""Also colonies that stand elsewhere by now."""
