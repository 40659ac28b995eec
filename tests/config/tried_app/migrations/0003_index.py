from django.db.migrations import Migration as Base
from django.db.migrations import RunSQL


class Migration(Base):
    atomic = False
    dependencies = [("tried_app", "0002_column")]
    operations = [RunSQL("CREATE INDEX CONCURRENTLY tried_mites ON tried (mites)", RunSQL.noop)]
