"""Addresses of this app."""

from django.urls import path

from reports import (
    around_views,
    bulletin_views,
    calendar_views,
    entry_views,
    operator_views,
    published_views,
    results_views,
    season_views,
    seen_views,
    today_views,
    views,
)

app_name = "reports"
urlpatterns = [
    path("", today_views.today, name="today"),
    path("today/later/", today_views.today_later, name="today-later"),
    path("today/now/", today_views.today_now, name="today-now"),
    path("regions/", views.region_month, name="region-month"),
    path("regions/published/", published_views.region_published, name="region-published"),
    path("regions/published/chart.svg", published_views.published_chart, name="published-chart"),
    path("regions/published/open/", published_views.outside_open, name="outside-open"),
    path("regions/published/close/", published_views.outside_close, name="outside-close"),
    path("regions/chart.svg", views.region_chart, name="region-chart"),
    path("regions/map.svg", views.region_map_chart, name="region-map"),
    path("around/", around_views.yards_around_place, name="yards-around"),
    path("around/<int:pk>/", around_views.yards_around_yard, name="yards-around-yard"),
    path("bulletins/", bulletin_views.bulletin_list, name="bulletin-list"),
    path("bulletins/draft/", bulletin_views.bulletin_draft, name="bulletin-draft"),
    path("bulletins/<int:pk>/", bulletin_views.bulletin_detail, name="bulletin-detail"),
    path("bulletins/<int:pk>/chart.svg", bulletin_views.bulletin_chart, name="bulletin-chart"),
    path("bulletins/<int:pk>/bulletin.pdf", bulletin_views.bulletin_paper, name="bulletin-pdf"),
    path("bulletins/<int:pk>/foreword/", bulletin_views.bulletin_foreword, name="bulletin-foreword"),
    path("bulletins/<int:pk>/issue/", bulletin_views.bulletin_issue, name="bulletin-issue"),
    path("bulletins/<int:pk>/withdraw/", bulletin_views.bulletin_withdraw, name="bulletin-withdraw"),
    path("regions/treatments/", results_views.treatment_results, name="treatment-results"),
    path("colonies/<int:pk>/season.svg", season_views.colony_chart, name="colony-chart"),
    path("yards/<int:pk>/season.svg", season_views.yard_chart, name="yard-chart"),
    path("mail/again/", views.mail_again, name="mail-again"),
    path("operator/mails/", operator_views.mails, name="operator-mails"),
    path("operator/mails/<int:pk>/again/", operator_views.mail_again, name="operator-mail-again"),
    path("me/seen/", seen_views.seen_of_me, name="seen-of-me"),
    path("me/calendar/", calendar_views.calendar, name="calendar"),
    path("me/calendar/make/", calendar_views.calendar_make, name="calendar-make"),
    path("me/calendar/make/<int:pk>/", calendar_views.calendar_make, name="calendar-make-yard"),
    path("me/calendar/<int:pk>/revoke/", calendar_views.calendar_revoke, name="calendar-revoke"),
    # open to strangers
    path("published/<slug:word>/", published_views.outside, name="region-outside"),
    path("calendar/<str:token>.ics", calendar_views.calendar_feed, name="calendar-feed"),
    path("recount/<str:token>/", entry_views.recount_entry, name="recount-entry"),
    path("mail/later/<str:token>/", today_views.mail_later, name="mail-later"),
    path("mail/stop/<str:token>/", views.mail_stop, name="mail-stop"),
    path("healthz/reminders/", views.healthz_reminders, name="healthz-reminders"),
]
