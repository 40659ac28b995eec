from django.apps import AppConfig


class Reports(AppConfig):
    """Everything that goes out to people: region figures, reminders."""

    name = "reports"

    def ready(self) -> None:
        from apiaries.brought_along import brought_along
        from apiaries.drawn_from import yard_drawn_from
        from apiaries.language import mark
        from apiaries.panels import colony_panels, member_panels, seen_panels, yard_panels
        from apiaries.telling import facts
        from reports import listeners  # noqa: F401  (connects them)
        from reports.around_panel import yards_around_this
        from reports.columns_to_forget import list_columns
        from reports.drawn_from import IN_YARD, LISTS, SUSPENDED
        from reports.export.panel import yard_came_back
        from reports.season_panels import colony_season, yard_season
        from reports.seen_yards import seen_yards
        from reports.today_panels import yard_today
        from reports.unreached_panel import members_unreached
        from reports.visit_panel import yard_visits

        list_columns()
        brought_along.register(SUSPENDED)
        facts.register(kinds=(), tables=(), verbs={"bring_in": mark("Brought back from a file")})
        yard_panels.register(yard_today)
        yard_drawn_from.register(IN_YARD, lists=LISTS)
        member_panels.register(members_unreached)
        yard_panels.register(yard_season)
        colony_panels.register(colony_season)
        yard_panels.register(yard_visits)
        yard_panels.register(yards_around_this)
        yard_panels.register(yard_came_back)
        seen_panels.register(seen_yards)
