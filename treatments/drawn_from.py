"""What the parts of a yard's page are drawn from that this app brings along."""

from apiaries.drawn_from import Rows

IN_YARD = (
    Rows("treatments_treatment", "t.id = ANY(the_treatments)"),
    Rows("treatments_recount", "t.treatment_id = ANY(the_treatments)"),
    Rows("treatments_round", "t.treatment_id = ANY(the_treatments)"),
    Rows("treatments_dose", "t.colony_id = ANY(the_bees)"),
    Rows("treatments_application"),
    Rows("treatments_yardoutlook", "t.yard_id = the_yard"),
)
LISTS = {
    # A colony takes its counts along when it moves, and what they say of a treatment here.
    "the_bees": "SELECT d.colony_id FROM treatments_dose d JOIN treatments_round r ON r.id = d.round_id"
    " JOIN treatments_treatment g ON g.id = r.treatment_id WHERE g.yard_id = the_yard",
    "the_treatments": "SELECT r.treatment_id FROM treatments_round r JOIN treatments_dose d ON d.round_id = r.id"
    " WHERE d.colony_id = ANY(the_bees) UNION SELECT id FROM treatments_treatment WHERE yard_id = the_yard",
}
