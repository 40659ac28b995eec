"""Addresses of this app."""

from django.urls import path

from reports import views

app_name = "reports"
urlpatterns = [
    path("regions/", views.region_month, name="region-month"),
    path("regions/chart.svg", views.region_chart, name="region-chart"),
    path("mail/again/", views.mail_again, name="mail-again"),
    # open to strangers
    path("mail/stop/<str:token>/", views.mail_stop, name="mail-stop"),
    path("healthz/reminders/", views.healthz_reminders, name="healthz-reminders"),
]
