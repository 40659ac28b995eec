"""Row-level security: the second lock before counts. The first is the gates in code."""

from django.db import migrations

from apiaries.row_policies import YARDS_KEPT, YARDS_SEEN, no_policies, policies

TABLES = ("counts_mitesample", "counts_mitesampleevent")


class Migration(migrations.Migration):
    dependencies = [("counts", "0007_imports"), ("apiaries", "0018_row_policies")]

    operations = [
        migrations.RunSQL(
            policies(table, seen=f"yard_id {YARDS_SEEN}", kept=f"yard_id {YARDS_KEPT}"), no_policies(table)
        )
        for table in TABLES
    ]
