"""Addresses of this app, one thing and one verb each."""

from django.urls import path

from counts import (
    views,
    views_changes,
    views_entries,
    views_import_rows,
    views_imports,
    views_paper,
    views_weeks,
)

app_name = "counts"
urlpatterns = [
    path("counts/", views.sample_list, name="sample-list"),
    path("counts/<int:pk>/", views.sample_detail, name="sample-detail"),
    path("counts/<int:pk>/correct/", views_changes.sample_correct, name="sample-correct"),
    path("counts/<int:pk>/void/", views_changes.sample_void, name="sample-void"),
    path("counts/<int:pk>/restore/", views_changes.sample_restore, name="sample-restore"),
    path("colonies/<int:pk>/counts/new/", views.sample_add, name="sample-add"),
    path("yards/<int:pk>/counts/new/", views.yard_count, name="yard-count"),
    path("yards/<int:pk>/counts/send/", views_entries.yard_entries, name="yard-entries"),
    path("counts/from-a-phone/", views_entries.phone_file, name="phone-file"),
    path("yards/<int:pk>/which-colonies/", views.sampling_plan, name="sampling-plan"),
    path("yards/<int:pk>/which-colonies/sheet/", views_paper.yard_sheet_pdf, name="yard-sheet-pdf"),
    path("yards/sheets/", views_paper.yard_sheets_pdf_all, name="yard-sheets-pdf"),
    path("method-cards/", views_paper.method_cards_pdf, name="method-cards-pdf"),
    path("imports/", views_imports.import_list, name="import-list"),
    path("imports/new/", views_imports.import_add, name="import-add"),
    path("imports/<int:pk>/", views_imports.import_detail, name="import-detail"),
    path("imports/<int:pk>/bring-in/", views_imports.import_bring_in, name="import-bring-in"),
    path("imports/<int:pk>/put-aside/", views_imports.import_put_aside, name="import-put-aside"),
    path("imports/<int:pk>/undo/", views_imports.import_undo, name="import-undo"),
    path("imports/<int:pk>/file/", views_import_rows.import_file, name="import-file"),
    path("imports/<int:pk>/headings/", views_import_rows.import_headings, name="import-headings"),
    path("imports/<int:pk>/answers/", views_import_rows.import_answers, name="import-answers"),
    path("imports/<int:pk>/colonies/", views_import_rows.import_colonies, name="import-colonies"),
    path("imports/<int:pk>/rows/", views_import_rows.import_rows, name="import-rows"),
    path("imports/<int:pk>/rows/agree/", views_import_rows.import_agree, name="import-agree"),
    path("imports/<int:pk>/problems/", views_import_rows.import_problems_csv, name="import-problems-csv"),
    path("count-weeks/", views_weeks.count_week_list, name="count-week-list"),
    path("count-weeks/set/", views_weeks.count_week_set, name="count-week-set"),
    path("count-weeks/months/", views_weeks.count_months, name="count-months"),
    path("count-weeks/<int:pk>/cancel/", views_weeks.count_week_cancel, name="count-week-cancel"),
]
