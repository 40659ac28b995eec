"""How many rows of facts there are, and how often any was changed: what a refused form leaves as it was."""

from django.apps import apps
from django.db import connection

# The history tables too: every change of a fact, not only a new one, leaves a row there.
FACTS = [
    model
    for label in ("apiaries", "counts", "treatments")
    for model in apps.get_app_config(label).get_models()
]


def number_of_rows() -> tuple[int, ...]:
    """Rows of every table, in a fixed order."""
    counts = ", ".join(f"(SELECT count(*) FROM {model._meta.db_table})" for model in FACTS)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {counts}")  # names of our own tables
        return tuple(cursor.fetchone())
