"""The list of the reader's yards is made once for each statement, and no second time to plan it."""

from django.db import migrations

from apiaries.row_policies import YARDS_KEPT, YARDS_KEPT_ONCE, YARDS_SEEN, YARDS_SEEN_ONCE, policies_anew

TABLES = ("counts_mitesample", "counts_mitesampleevent")


class Migration(migrations.Migration):
    dependencies = [("counts", "0008_row_policies")]

    operations = [
        migrations.RunSQL(
            policies_anew(table, seen=f"yard_id {YARDS_SEEN_ONCE}", kept=f"yard_id {YARDS_KEPT_ONCE}"),
            policies_anew(table, seen=f"yard_id {YARDS_SEEN}", kept=f"yard_id {YARDS_KEPT}"),
        )
        for table in TABLES
    ]
