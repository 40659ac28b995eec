"""What was done is told on the next page: until then the sentence lies in a cookie, bound to its host where served."""

from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class _HostCookie(CookieStorage):
    cookie_name = "__Host-recount-messages"


class HostMessages(FallbackStorage):
    """Django's own, under a name that browsers take over TLS and from this very host alone."""

    storage_classes = (_HostCookie, SessionStorage)
