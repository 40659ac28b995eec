from django.db import migrations, models


class Migration(migrations.Migration):
    """The column stays: a way of treating is called by what its reader calls it, and kept by its English name."""

    dependencies = [
        ("treatments", "0006_day_to_take_out"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="application",
            options={"ordering": ["english_name", "jurisdiction"]},
        ),
        migrations.AlterField(
            model_name="application",
            name="name",
            field=models.CharField(db_column="name", max_length=120),
        ),
        migrations.RenameField(
            model_name="application",
            old_name="name",
            new_name="english_name",
        ),
    ]
