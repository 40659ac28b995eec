"""The shared cache's table, and a key that keeps a yard inside its own club's regions."""

from typing import Any

from django.core.management import call_command
from django.db import migrations


def make_cache_table(apps: Any, schema_editor: Any) -> None:
    """Rate limits are counted in it, so no installation may run without; making it twice does nothing."""
    call_command("createcachetable", database=schema_editor.connection.alias, verbosity=0)


class Migration(migrations.Migration):
    dependencies = [("apiaries", "0001_initial")]

    operations = [
        migrations.RunPython(make_cache_table, migrations.RunPython.noop),
        migrations.RunSQL(
            sql=(
                "ALTER TABLE apiaries_yard ADD CONSTRAINT apiaries_yard_region_of_own_club"
                " FOREIGN KEY (region_id, club_id) REFERENCES apiaries_region (id, club_id)"
                " DEFERRABLE INITIALLY DEFERRED"
            ),
            reverse_sql="ALTER TABLE apiaries_yard DROP CONSTRAINT apiaries_yard_region_of_own_club",
        ),
    ]
