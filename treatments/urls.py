"""Addresses of this app, one thing and one verb each."""

from django.urls import path

from treatments import views, views_day

app_name = "treatments"
urlpatterns = [
    path("", views.today, name="today"),
    path("treatments/", views.treatment_list, name="treatment-list"),
    path("yards/<int:pk>/treatments/new/", views.treatment_add, name="treatment-add"),
    path("yards/<int:pk>/treatment-day/", views_day.day_possible, name="day-possible"),
    path("treatments/<int:pk>/", views.treatment_detail, name="treatment-detail"),
    path("treatments/<int:pk>/rounds/<int:number>/give/", views.round_give, name="round-give"),
    path("treatments/<int:pk>/rounds/<int:number>/out/", views.round_out, name="round-out"),
    path("treatments/<int:pk>/cancel/", views.treatment_cancel, name="treatment-cancel"),
    path("treatments/<int:pk>/did-it-work/", views.outcome, name="outcome"),
    path("recounts/<int:pk>/skip/", views.recount_skip, name="recount-skip"),
]
