"""The pages of members: roles, regions, and the end of a membership, through the test client."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from apiaries.models import Person, Yard
from tests.apiaries.outgoing import mails

Opens = Callable[[Person | None], Client]


def url(name: str, *args: object) -> str:
    return reverse(f"apiaries:{name}", args=args)


def said(response: Any) -> str:
    return " ".join(str(message) for message in get_messages(response.wsgi_request))


def test_members_show_change_links_to_administrators_only(cast: Any, client_for: Opens) -> None:
    end = url("member-end", cast.charlie.membership.pk)

    assert end in client_for(cast.adam).get(url("member-list")).content.decode()
    assert end not in client_for(cast.dana).get(url("member-list")).content.decode()


def test_member_leaves_after_a_question(cast: Any, client_for: Opens) -> None:
    client, end = client_for(cast.adam), url("member-end", cast.charlie.membership.pk)

    asked = client.get(end).content.decode()
    assert "End the membership of Charlie?" in asked
    assert "They can still sign in" in asked and "invite the same address again" in asked
    client.post(end)

    assert not cast.club.memberships.current().filter(person=cast.charlie).exists()
    assert Yard.objects.filter(keeper=cast.charlie).exists()


def test_last_administrator_is_told_to_invite_another(cast: Any, client_for: Opens) -> None:
    response = client_for(cast.adam).post(url("member-end", cast.adam.membership.pk))

    assert "needs an administrator" in said(response)
    assert response["Location"].startswith(url("member-list"))
    assert cast.club.memberships.current().filter(person=cast.adam).exists()


def test_regions_of_an_inspector_are_saved(cast: Any, client_for: Opens) -> None:
    response = client_for(cast.adam).post(
        url("member-change", cast.ines.membership.pk),
        {"role": "inspector", "regions": [cast.north.pk, cast.south.pk]},
    )

    assert set(cast.ines.membership.regions.all()) == {cast.north, cast.south}
    assert said(response) == "The regions of Ines are saved. They are told by mail."
    (told,) = mails()
    assert told.to == ["ines@example.org"]
    assert told.subject == "Your role in Test club"
    assert "Adam changed your regions in Test club on Recount." in told.body
    assert "Your regions: North, South" in told.body


def test_member_becomes_coordinator_and_is_told(cast: Any, client_for: Opens) -> None:
    client, change = client_for(cast.adam), url("member-change", cast.charlie.membership.pk)
    assert change in client.get(url("member-list")).content.decode()

    response = client.post(change, {"role": "coordinator"})

    assert cast.charlie.memberships.get().role == "coordinator"
    assert said(response) == "Charlie is coordinator now. They are told by mail."
    assert "from now on you are coordinator" in mails()[0].body
    assert "from now on you are coordinator" in str(mails()[0].alternatives[0][0])


def test_role_and_its_mail_are_kept_while_the_mail_server_is_away(
    cast: Any, client_for: Opens, monkeypatch: Any
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise OSError("no mail server")

    with monkeypatch.context() as away:
        away.setattr("django.core.mail.backends.locmem.EmailBackend.open", refuse)
        response = client_for(cast.adam).post(
            url("member-change", cast.charlie.membership.pk), {"role": "coordinator"}
        )
        assert mails() == []

    assert cast.charlie.memberships.get().role == "coordinator"
    assert said(response) == "Charlie is coordinator now. They are told by mail."
    assert [told.to for told in mails()] == [["charlie@example.org"]]


def test_role_saved_as_it_was_tells_nobody(cast: Any, client_for: Opens) -> None:
    response = client_for(cast.adam).post(
        url("member-change", cast.charlie.membership.pk), {"role": "member"}
    )

    assert said(response) == "Nothing was changed for Charlie."
    assert mails() == []


def test_inspector_who_becomes_a_member_has_no_regions(cast: Any, client_for: Opens) -> None:
    typed = {"role": "member", "regions": [cast.north.pk]}  # ticked as the page came

    client_for(cast.adam).post(url("member-change", cast.ines.membership.pk), typed)

    ines = cast.ines.memberships.get()
    assert (ines.role, ines.regions.count()) == ("member", 0)


@pytest.mark.parametrize(
    ("who", "typed", "words"),
    [
        ("charlie", {"role": "inspector"}, "Choose at least one region for an inspector."),
        ("charlie", {"role": "member", "regions": ["south"]}, "Only an inspector has regions."),
        ("charlie", {"role": "queen"}, "Choose one of the roles."),
        ("charlie", {}, "Choose a role."),
        ("adam", {"role": "member"}, "The club needs an administrator."),
    ],
)
def test_role_that_cannot_be_is_told_at_its_place(
    cast: Any, client_for: Opens, who: str, typed: dict[str, Any], words: str
) -> None:
    member = getattr(cast, who).memberships.get()
    if "regions" in typed:
        typed = typed | {"regions": [cast.south.pk]}

    page = client_for(cast.adam).post(url("member-change", member.pk), typed).content.decode()

    assert words in page
    assert cast.club.memberships.get(pk=member.pk).role == member.role
    assert mails() == []


def test_administrator_may_step_down_when_there_is_another(cast: Any, client_for: Opens) -> None:
    adam, dana = cast.adam.memberships.get(), cast.dana.memberships.get()
    client = client_for(cast.adam)
    assert "This is you." in client.get(url("member-change", adam.pk)).content.decode()
    client.post(url("member-change", dana.pk), {"role": "administrator"})

    response = client.post(url("member-change", adam.pk), {"role": "member"})

    assert response["Location"] == url("me")
    assert said(response).endswith("You are member now.")
    assert cast.adam.memberships.get().role == "member"


def test_saving_leads_back_to_the_page_of_the_list(cast: Any, client_for: Opens, monkeypatch: Any) -> None:
    monkeypatch.setattr("apiaries.views.members.PER_PAGE", 2)
    client, pk = client_for(cast.adam), cast.charlie.membership.pk
    page = client.get(url("member-list") + "?page=2").content.decode()
    assert f'href="{url("member-change", pk)}?page=2"' in page and f'id="member-{pk}"' in page

    there = f"{url('member-list')}?page=2#member-{pk}"
    change, end = (f"{url(name, pk)}?page=2" for name in ("member-change", "member-end"))
    assert f'href="{there}"' in client.get(change).content.decode()
    assert client.post(change, {"role": "coordinator"})["Location"] == there
    assert client.post(end)["Location"] == there


def test_members_are_found_by_a_part_of_their_name_and_written_to(cast: Any, client_for: Opens) -> None:
    client = client_for(cast.dana)

    found = client.get(url("member-list"), {"name": "CHAR"}).content.decode()

    assert '<a href="mailto:charlie@example.org">charlie@example.org</a>' in found
    assert "1 member<" in found and "alice@example.org" not in found
    nobody = client.get(url("member-list"), {"name": "Xaver"}).content.decode()
    assert "Nobody has this name" in nobody
    for odd in ("\0", "x" * 200):
        page = client.get(url("member-list"), {"name": odd})
        assert page.status_code == 200 and b"field--wrong" in page.content and b"alice@" in page.content
