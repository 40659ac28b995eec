"""The list of the reader's yards is made once for each statement, and no second time to plan it."""

from django.db import migrations

from apiaries.row_policies import (
    READER,
    YARDS_KEPT,
    YARDS_KEPT_ONCE,
    YARDS_SEEN,
    YARDS_SEEN_ONCE,
    policies_anew,
)

TABLES = ("apiaries_yard", "apiaries_yardevent")
OWN = f"keeper_id = {READER} OR id"


class Migration(migrations.Migration):
    dependencies = [("apiaries", "0020_sign_ins")]

    operations = [
        migrations.RunSQL(
            policies_anew(table, seen=f"{OWN} {YARDS_SEEN_ONCE}", kept=f"{OWN} {YARDS_KEPT_ONCE}"),
            policies_anew(table, seen=f"{OWN} {YARDS_SEEN}", kept=f"{OWN} {YARDS_KEPT}"),
        )
        for table in TABLES
    ]
