"""Access of other programs: one's tokens, a new one, and the end of one."""

from allauth.account.decorators import reauthentication_required
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from apiaries.access import token_for
from apiaries.actions.tokens import make_token, revoke_token
from apiaries.forms import posted
from apiaries.forms.tokens import TokenForm
from apiaries.language import say
from apiaries.models import Person
from apiaries.presenters_tokens import tokens_for_list
from apiaries.views.asking import person_of
from apiaries.views.sent_once import is_first_sending, new_form_key, not_sent_after_all


@require_safe
def token_list(request: HttpRequest) -> HttpResponse:
    """One's tokens, without their words."""
    return _listed(request, person_of(request))


def _listed(request: HttpRequest, person: Person, word: str = "") -> HttpResponse:
    standing, ended = tokens_for_list(person, at=timezone.now())
    return render(request, "apiaries/token_list.html", {"standing": standing, "ended": ended, "word": word})


@require_http_methods(["GET", "HEAD", "POST"])
@reauthentication_required  # a browser left open makes no way in that outlives it
def token_make(request: HttpRequest) -> HttpResponse:
    """What it is for, what it may do, and how long.

    The answer to the form shows the word, so that it is kept nowhere on the way. A browser that loads that answer again
    sends the form again: its key, minted when it opened, makes one token and no second.
    """
    person = person_of(request)
    form = TokenForm(posted(request))
    if form.is_valid():
        if not is_first_sending(request, person, "token"):
            messages.warning(
                request,
                say("This token is made already and is not shown again. If you have no copy, revoke it."),
            )
            return redirect("apiaries:token-list")
        words: list[str] = []
        if form.saves(lambda: words.append(_make(form, request, person))):
            return _listed(request, person, words[0])
        not_sent_after_all(request, person, "token")
    return render(request, "apiaries/token_make.html", {"form": form, "key": new_form_key()})


def _make(form: TokenForm, request: HttpRequest, person: Person) -> str:
    typed = form.cleaned_data
    _, word = make_token(
        person=person,
        name=typed["name"],
        scopes=typed["scopes"],
        days=typed["days"],
        at=timezone.now(),
        by=person,
    )
    messages.success(request, say("The token is made, and a mail tells you so."))
    return word


@require_http_methods(["GET", "HEAD", "POST"])
def token_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask once, then it stops working."""
    person = person_of(request)
    token = token_for(person, pk)
    if request.method == "POST":
        revoke_token(token=token, at=timezone.now(), by=person)
        messages.success(request, say("“{name}” no longer works.", name=token.name))
        return redirect("apiaries:token-list")
    return render(request, "apiaries/token_revoke.html", {"token": token})
