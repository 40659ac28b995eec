"""Row-level security: the second lock before yards. The first is the gates in code."""

from django.db import migrations

from apiaries.row_policies import (
    FUNCTIONS,
    NO_FUNCTIONS,
    READER,
    YARDS_KEPT,
    YARDS_SEEN,
    no_policies,
    policies,
)

TABLES = ("apiaries_yard", "apiaries_yardevent")
OWN = f"keeper_id = {READER} OR id"  # a yard that is only just being made is in no list yet


class Migration(migrations.Migration):
    dependencies = [("apiaries", "0017_account_notices")]

    operations = [
        migrations.RunSQL(FUNCTIONS, NO_FUNCTIONS),
        *(
            migrations.RunSQL(
                policies(table, seen=f"{OWN} {YARDS_SEEN}", kept=f"{OWN} {YARDS_KEPT}"), no_policies(table)
            )
            for table in TABLES
        ),
    ]
