from django.apps import AppConfig


class Reports(AppConfig):
    """Everything that goes out to people: region figures, reminders."""

    name = "reports"

    def ready(self) -> None:
        from reports import listeners  # noqa: F401  (connects them)
