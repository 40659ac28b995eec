"""Addresses of this app, one thing and one verb each."""

from django.urls import path

from treatments import views, views_calls, views_day, views_device, views_locked, views_records, views_yard

app_name = "treatments"
urlpatterns = [
    path("treatments/", views.treatment_list, name="treatment-list"),
    path("yards/<int:pk>/treatments/new/", views.treatment_add, name="treatment-add"),
    path("yards/<int:pk>/treatment-day/", views_day.day_possible, name="day-possible"),
    path("yards/<int:pk>/treatment-day/<str:way>/", views_day.day_plan, name="day-plan"),
    path("treatments/<int:pk>/rounds/<int:number>/plan/", views_day.round_plan, name="round-plan"),
    path("treatments/<int:pk>/rounds/<int:number>/sheet/", views_day.round_sheet, name="round-sheet"),
    path(
        "treatments/<int:pk>/rounds/<int:number>/sheet.pdf", views_day.round_sheet_pdf, name="round-sheet-pdf"
    ),
    path("treatments/<int:pk>/rounds/<int:number>/yard/", views_yard.round_yard, name="round-yard"),
    path("treatments/<int:pk>/rounds/<int:number>/marks/", views_yard.round_marks, name="round-marks"),
    path("treatments/<int:pk>/rounds/<int:number>/finish/", views_day.round_finish, name="round-finish"),
    path("treatments/<int:pk>/", views.treatment_detail, name="treatment-detail"),
    path("treatments/<int:pk>/rounds/<int:number>/give/", views.round_give, name="round-give"),
    path("treatments/<int:pk>/rounds/<int:number>/out/", views.round_out, name="round-out"),
    path("treatments/<int:pk>/rounds/<int:number>/out-by/", views.round_out_by, name="round-out-by"),
    path("treatments/<int:pk>/cancel/", views.treatment_cancel, name="treatment-cancel"),
    path("treatments/<int:pk>/did-it-work/", views.outcome, name="outcome"),
    path("treatments/<int:pk>/record/", views_records.treatment_record, name="treatment-record"),
    path("records/", views_records.medicine_record, name="medicine-record"),
    path("records/csv/", views_records.medicine_record_csv, name="medicine-record-csv"),
    path("records/chain/", views_records.medicine_record_chain, name="medicine-record-chain"),
    path("records/pdf/", views_records.medicine_record_pdf, name="medicine-record-pdf"),
    path("records/former-members/", views_locked.locked_records, name="locked-records"),
    path("keepers/<int:pk>/purchases/new/", views_records.purchase_add, name="purchase-add"),
    path("purchases/<int:pk>/correct/", views_records.purchase_correct, name="purchase-correct"),
    path("purchases/<int:pk>/void/", views_records.purchase_void, name="purchase-void"),
    path("keepers/<int:pk>/disposals/new/", views_records.disposal_add, name="disposal-add"),
    path("disposals/<int:pk>/correct/", views_records.disposal_correct, name="disposal-correct"),
    path("disposals/<int:pk>/void/", views_records.disposal_void, name="disposal-void"),
    path("me/heaters/", views_device.device_list, name="device-list"),
    path("me/heaters/new/", views_device.device_add, name="device-add"),
    path("heaters/<int:pk>/edit/", views_device.device_edit, name="device-edit"),
    path("heaters/<int:pk>/trial/", views_device.device_trial, name="device-trial"),
    path("heaters/<int:pk>/put-away/", views_device.device_put_away, name="device-put-away"),
    path("yards/<int:pk>/count/leave-out/", views_calls.count_leave_out, name="count-leave-out"),
    path("recounts/<int:pk>/skip/", views.recount_skip, name="recount-skip"),
]
