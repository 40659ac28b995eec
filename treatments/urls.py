"""Addresses of this app."""

from django.urls.resolvers import URLPattern

app_name = "treatments"
urlpatterns: list[URLPattern] = []
