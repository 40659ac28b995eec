"""The page of one's sign-ins, on a small phone and by keyboard: one is ended, then all others."""

import pytest
from django.utils import timezone

from apiaries.actions.sign_ins import note_refused
from apiaries.models import DeviceKind
from apiaries.sign_in_log import mark_of
from tests.browser.pages import Window
from tests.browser.test_tokens import sound
from tests.cast import Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_one_and_then_all_others_are_ended_by_keyboard(cast: Cast, window: Window, width: int) -> None:
    others = [window(cast.alice, 390, 800).new_page() for _ in range(3)]
    note_refused(mark=mark_of(cast.alice.email), device=DeviceKind.COMPUTER, at=timezone.now())
    page = window(cast.alice, width, 800).new_page()
    page.goto("/me/")
    page.get_by_role("link", name="Where you are signed in").press("Enter")

    page.get_by_role("heading", name="Where you are signed in").wait_for()
    assert page.locator("#open li").count() == 4
    sound(page)
    page.get_by_role("button", name="Sign out:").first.press("Enter")
    page.get_by_text("That device is signed out.").wait_for()
    assert page.locator("#open li").count() == 3 and page.locator("#earlier li").count() == 1
    sound(page)
    page.get_by_role("button", name="Sign out all others").press("Enter")

    page.get_by_text("You are signed in nowhere else.").wait_for()
    sound(page)
    for other in others:
        other.goto("/me/")
        assert "/account/login/" in other.url
