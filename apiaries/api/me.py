"""Who the asker is, and what their token is for."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from apiaries.api.conditional import answer_if_changed
from apiaries.api.scopes import Scope
from apiaries.api.views import Interface
from apiaries.models import AccessToken, Person
from apiaries.permissions import Role


class ClubOut(serializers.Serializer[Any]):
    """The club, and the person's role in it."""

    name = serializers.CharField()
    role = serializers.ChoiceField(choices=[role.value for role in Role])


class TokenOut(serializers.Serializer[AccessToken]):
    """The token that asks."""

    name = serializers.CharField()
    scopes = serializers.ListField(child=serializers.ChoiceField(choices=[scope.value for scope in Scope]))
    expires_at = serializers.DateTimeField()


class MeOut(serializers.Serializer[Person]):
    """The person who asks."""

    name = serializers.CharField()
    time_zone = serializers.CharField()
    club = ClubOut(allow_null=True, help_text="null for somebody who belongs to none at present.")
    token = TokenOut(allow_null=True, help_text="null where a browser asks, which may do all its person may.")


class MeView(Interface):
    """Whose token this is, and what it is for; any token may ask."""

    @extend_schema(operation_id="me", responses=MeOut)
    def get(self, request: Request) -> Response:
        """Whose token this is, and what it is for."""
        membership = self.person.membership
        shown = {
            "name": self.person.name,
            "time_zone": self.person.time_zone,
            "club": {"name": membership.club.name, "role": membership.role} if membership else None,
            "token": request.auth if isinstance(request.auth, AccessToken) else None,
        }
        return answer_if_changed(request, MeOut(shown).data)
