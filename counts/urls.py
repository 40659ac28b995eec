"""Addresses of this app, one thing and one verb each."""

from django.urls import path

from counts import views, views_changes, views_entries, views_paper, views_weeks

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
    path("count-weeks/", views_weeks.count_week_list, name="count-week-list"),
    path("count-weeks/set/", views_weeks.count_week_set, name="count-week-set"),
    path("count-weeks/months/", views_weeks.count_months, name="count-months"),
    path("count-weeks/<int:pk>/cancel/", views_weeks.count_week_cancel, name="count-week-cancel"),
]
