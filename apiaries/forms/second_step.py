"""allauth's forms of the second step, with seeds that are sealed wherever they are kept."""

from typing import Any

from allauth.core import context
from allauth.mfa.base.forms import AuthenticateForm, ReauthenticateForm
from allauth.mfa.totp.forms import ActivateTOTPForm
from allauth.mfa.totp.internal.auth import SECRET_SESSION_KEY
from django import forms

from apiaries.second_step_seeds import UnreadableSeed, can_be_read, passing_over, seal, unsealed


class SetUpForm(ActivateTOTPForm):
    """A new app. Between two pages its secret waits in the session, which is a row of the database too."""

    secret: str

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.secret = unsealed(self.secret)
        context.request.session[SECRET_SESSION_KEY] = seal(self.secret)


class _TriesAll:
    """A seed that cannot be read stands in nobody's way whose code fits another one of theirs.

    Raises UnreadableSeed where no code fits and one of the seeds was not tried: nobody is to take that for their
    mistake.
    """

    def clean_code(self) -> str:
        with passing_over() as passed:
            try:
                code: str = super().clean_code()
            except forms.ValidationError:
                if passed:
                    raise passed[0] from None
                raise
        if not can_be_read(self.authenticator.data):
            raise UnreadableSeed("A code fitted what only stood in for a seed.")
        return code


class CodeForm(_TriesAll, AuthenticateForm):
    """At sign-in."""


class CodeAgainForm(_TriesAll, ReauthenticateForm):
    """Before something that asks for it once more."""
