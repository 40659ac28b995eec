"""Half a place (latitude without longitude) is refused by the database too."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("apiaries", "0002_cache_table_and_region_key"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="yard",
            name="apiaries_yard_place_whole",
        ),
        migrations.AddConstraint(
            model_name="yard",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("latitude", None), ("longitude", None)),
                    models.Q(
                        ("latitude__isnull", False),
                        ("longitude__isnull", False),
                        ("latitude__gte", -90),
                        ("latitude__lte", 90),
                        ("longitude__gte", -180),
                        ("longitude__lte", 180),
                    ),
                    _connector="OR",
                ),
                name="apiaries_yard_place_whole",
            ),
        ),
    ]
