"""The app, and what it adds to the pages of yards and colonies."""

from django.apps import AppConfig


class Treatments(AppConfig):
    """What was done, what to do, did it work."""

    name = "treatments"

    def ready(self) -> None:
        # Models cannot be imported before all apps are loaded.
        from apiaries.panels import colony_panels, yard_panels
        from treatments.outlook_panel import colony_outlook, yard_outlook
        from treatments.presenters import colony_panel, yard_panel

        yard_panels.register(yard_panel)
        colony_panels.register(colony_panel)
        yard_panels.register(yard_outlook)
        colony_panels.register(colony_outlook)
