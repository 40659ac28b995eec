"""Addresses of this app."""

from django.urls import path

from reports import season_views, views

app_name = "reports"
urlpatterns = [
    path("regions/", views.region_month, name="region-month"),
    path("regions/chart.svg", views.region_chart, name="region-chart"),
    path("colonies/<int:pk>/season.svg", season_views.colony_chart, name="colony-chart"),
    path("yards/<int:pk>/season.svg", season_views.yard_chart, name="yard-chart"),
    path("mail/again/", views.mail_again, name="mail-again"),
    # open to strangers
    path("mail/stop/<str:token>/", views.mail_stop, name="mail-stop"),
    path("healthz/reminders/", views.healthz_reminders, name="healthz-reminders"),
]
