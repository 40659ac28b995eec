"""What the parts of a yard's page are drawn from that this app brings along."""

from apiaries.drawn_from import Rows

_GIVEN = """IN (
    SELECT r.treatment_id FROM treatments_round r JOIN treatments_dose d ON d.round_id = r.id
    WHERE d.colony_id IN (SELECT id FROM bees)
    UNION SELECT id FROM treatments_treatment WHERE yard_id = %(yard)s)"""
IN_YARD = (
    Rows("treatments_treatment", f"t.id {_GIVEN}"),
    Rows("treatments_recount", f"t.treatment_id {_GIVEN}"),
    Rows("treatments_round", f"t.treatment_id {_GIVEN}"),
    Rows("treatments_dose", "t.colony_id IN (SELECT id FROM bees)"),
    Rows("treatments_application"),
    Rows("treatments_yardoutlook", "t.yard_id = %(yard)s"),
)
TREATED_IN_YARD = """SELECT d.colony_id FROM treatments_dose d JOIN treatments_round r ON r.id = d.round_id
    JOIN treatments_treatment g ON g.id = r.treatment_id WHERE g.yard_id = %(yard)s"""
"""A colony takes its counts along when it moves, and what they say of a treatment here."""
