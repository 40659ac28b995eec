"""Doorway for the schedule. It only wakes: which sheets wait, the database knows."""

from celery import shared_task
from django.utils import timezone

from counts.imports.doing import work_on_all


@shared_task
def work_on_imports() -> None:
    """Read and bring in the sheets that are too big to be done while somebody waits."""
    work_on_all(at=timezone.now())
