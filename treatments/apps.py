"""The app, and what it adds to the pages of yards and colonies."""

from django.apps import AppConfig


class Treatments(AppConfig):
    """What was done, what to do, did it work."""

    name = "treatments"
    append_only_tables = ("treatments_medicinelink",)
    """What the role of the application may only read and add to."""

    def ready(self) -> None:
        # Models cannot be imported before all apps are loaded.
        from apiaries.forgetting.registry import first_steps
        from apiaries.panels import colony_panels, leaving_panels, yard_panels
        from apiaries.telling import facts, names
        from counts.beside import treated_in
        from counts.called_for import called_for
        from treatments import (
            listeners,  # noqa: F401  (connects them)
            told,
            told_kinds,
        )
        from treatments.around import treated_spans
        from treatments.columns_to_forget import list_columns
        from treatments.due import recounts_wanted
        from treatments.locked_page import leaving_panel
        from treatments.locking import lock_records
        from treatments.outlook_panel import colony_outlook, yard_outlook
        from treatments.presenters import colony_panel, yard_panel

        list_columns()
        if lock_records not in first_steps:
            first_steps.append(lock_records)
        if treated_spans not in treated_in:
            treated_in.append(treated_spans)
        if recounts_wanted not in called_for:
            called_for.append(recounts_wanted)
        yard_panels.register(yard_panel)
        colony_panels.register(colony_panel)
        yard_panels.register(yard_outlook)
        colony_panels.register(colony_outlook)
        names.update(told.NAMES)
        facts.register(kinds=told_kinds.KINDS, tables=told.TABLES, verbs=told.VERBS)
        if told.own_reason not in facts.own_reasons:
            facts.own_reasons.append(told.own_reason)
        leaving_panels.register(leaving_panel)
