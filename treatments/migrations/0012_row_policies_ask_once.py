"""The lists of the reader's yards and keepers are made once for each statement, and no second time to plan it."""

from django.db import migrations

from apiaries.row_policies import (
    KEEPERS,
    KEEPERS_ONCE,
    YARDS_KEPT,
    YARDS_KEPT_ONCE,
    YARDS_SEEN,
    YARDS_SEEN_ONCE,
    policies_anew,
)

# table: rules now and before, each for what a reader sees and for what they add and change.
RULES = {
    "treatments_treatment": (
        (f"yard_id {YARDS_SEEN_ONCE}", f"yard_id {YARDS_KEPT_ONCE}"),
        (f"yard_id {YARDS_SEEN}", f"yard_id {YARDS_KEPT}"),
    ),
    "treatments_medicinepurchase": ((f"keeper_id {KEEPERS_ONCE}",) * 2, (f"keeper_id {KEEPERS}",) * 2),
    "treatments_medicinedisposal": ((f"keeper_id {KEEPERS_ONCE}",) * 2, (f"keeper_id {KEEPERS}",) * 2),
}
LOCKED = "id IN (SELECT unnest(treatments_locked_of_reader()))"
LOCKED_ONCE = "id IN (SELECT unnest((SELECT treatments_locked_of_reader())))"


class Migration(migrations.Migration):
    dependencies = [("treatments", "0011_row_policies")]

    operations = [
        migrations.RunSQL(
            policies_anew(name, seen=now[0], kept=now[1]), policies_anew(name, seen=before[0], kept=before[1])
        )
        for table, (now, before) in RULES.items()
        for name in (table, f"{table}event")
    ] + [
        migrations.RunSQL(
            policies_anew("treatments_lockedentry", seen=LOCKED_ONCE, kept="false"),
            policies_anew("treatments_lockedentry", seen=LOCKED, kept="false"),
        )
    ]
