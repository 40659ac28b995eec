"""The app, and what it adds to the pages of yards and colonies."""

from typing import ClassVar

from django.apps import AppConfig

# Voiding, and what goes when the keeper or who wrote it is forgotten (columns_to_forget).
KEPT_CHANGES = ("voided_at", "voided_by_id", "voided_why", "product", "batch", "note")


class Treatments(AppConfig):
    """What was done, what to do, did it work."""

    name = "treatments"
    append_only_tables = ("treatments_medicinelink",)
    """What the role of the application may only read and add to."""
    kept_tables = (
        "treatments_treatment",
        "treatments_round",
        "treatments_dose",
        "treatments_medicinepurchase",
        "treatments_medicinedisposal",
    )
    """Of these it deletes no row: an entry of a medicine record is voided, corrected or emptied of a person's words."""
    changing_columns: ClassVar[dict[str, tuple[str, ...]]] = {
        "treatments_dose": ("in_hive", "why_above", "voided_at", "voided_by_id", "voided_why"),
        "treatments_medicinepurchase": (*KEPT_CHANGES, "supplier", "supplier_address", "proof"),
        "treatments_medicinedisposal": (*KEPT_CHANGES, "how", "place"),
    }
    """Of these tables it may change nothing else: how much, when and of whom stays as it was written down."""

    def ready(self) -> None:
        # Models cannot be imported before all apps are loaded.
        from apiaries.drawn_from import yard_drawn_from
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
        from treatments.drawn_from import IN_YARD, LISTS
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
        yard_drawn_from.register(IN_YARD, lists=LISTS)
        colony_panels.register(colony_panel)
        yard_panels.register(yard_outlook)
        colony_panels.register(colony_outlook)
        names.update(told.NAMES)
        facts.register(kinds=told_kinds.KINDS, tables=told.TABLES, verbs=told.VERBS)
        if told.own_reason not in facts.own_reasons:
            facts.own_reasons.append(told.own_reason)
        leaving_panels.register(leaving_panel)
