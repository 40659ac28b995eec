"""How often somebody may ask, counted once for all processes in the shared cache.

A cache is no lock: asks at the very same moment may count as one, so a limit is held within a few.
"""

from typing import Any

from allauth.account.adapter import get_adapter
from django.conf import settings
from django.core.exceptions import PermissionDenied
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from apiaries.models import Person


class _Throttle(SimpleRateThrottle):
    """Its rate is read anew for each request: nothing of the settings stays in the class."""

    def get_rate(self) -> str:
        return settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"][self.scope]

    def get_ident(self, request: Request) -> str:
        """The asker's address; behind proxies of ours, the one that the outermost of them saw.

        Those of whom no address is known are counted together: that is no reason to refuse them.
        """
        try:
            return str(get_adapter().get_client_ip(request))
        except PermissionDenied:
            return ""


class Reads(_Throttle):
    """Of one person, with all their tokens."""

    scope = "reads"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        if request.method not in SAFE_METHODS or not isinstance(request.user, Person):
            return None
        return self.cache_format % {"scope": self.scope, "ident": request.user.pk}


class Writes(_Throttle):
    """The same for what changes something."""

    scope = "writes"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        if request.method in SAFE_METHODS or not isinstance(request.user, Person):
            return None
        return self.cache_format % {"scope": self.scope, "ident": request.user.pk}


class Strangers(_Throttle):
    """Of one address, without a token or a sign-in."""

    scope = "strangers"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        if isinstance(request.user, Person):
            return None
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}


class FailedTokens(_Throttle):
    """Of one address, with tokens that are not good."""

    scope = "failed_tokens"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}
