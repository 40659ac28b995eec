from django.db.migrations import Migration as Base
from django.db.migrations import RunSQL


class Migration(Base):
    dependencies = [("tried_app", "0001_table")]
    operations = [RunSQL("ALTER TABLE tried ADD COLUMN noted text", RunSQL.noop)]
