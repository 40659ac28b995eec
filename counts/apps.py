"""The app, and what it adds to the pages of yards and colonies."""

from django.apps import AppConfig


class Counts(AppConfig):
    """What was counted and what it says."""

    name = "counts"
    kept_tables = ("counts_mitesample", "counts_samplerestored")
    """Of these the role of the application deletes no row: a count is voided or corrected."""

    def ready(self) -> None:
        # Models cannot be imported before all apps are loaded.
        from apiaries.drawn_from import yard_drawn_from
        from apiaries.forgetting.registry import first_steps
        from apiaries.panels import colony_first_panels, colony_panels, member_panels, yard_panels
        from apiaries.telling import facts
        from counts import told
        from counts.columns_to_forget import list_columns
        from counts.drawn_from import IN_YARD, LISTS
        from counts.forgetting import put_sheets_aside
        from counts.habits import members_panel
        from counts.presenters import colony_first_panel, colony_panel, yard_panel
        from counts.weeks import members_weeks_panel

        list_columns()
        if put_sheets_aside not in first_steps:
            first_steps.append(put_sheets_aside)
        yard_panels.register(yard_panel)
        yard_drawn_from.register(IN_YARD, lists=LISTS)
        colony_first_panels.register(colony_first_panel)
        colony_panels.register(colony_panel)
        member_panels.register(members_panel)
        member_panels.register(members_weeks_panel)
        facts.register(kinds=told.KINDS, tables=told.TABLES, verbs=told.VERBS)
