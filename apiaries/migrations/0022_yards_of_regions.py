from django.contrib.postgres.operations import AddIndexConcurrently
from django.db import migrations, models


class Migration(migrations.Migration):
    atomic = False

    dependencies = [("apiaries", "0021_row_policies_ask_once")]

    operations = [
        AddIndexConcurrently(
            model_name="yard",
            index=models.Index(fields=["region", "club"], include=("id",), name="apiaries_yard_of_regions"),
        ),
    ]
