from django.db.migrations import Migration as Base
from django.db.migrations import RunSQL


class Migration(Base):
    operations = [RunSQL("CREATE TABLE tried (id bigserial PRIMARY KEY, mites int)", RunSQL.noop)]
