"""Passwords of the service's, the club's or the trade's own words."""

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from apiaries.password_words import WordsOfThisPlace
from tests.cast import Cast


@pytest.mark.parametrize("password", ["Recount2026!", "varroa-mites-1", "HonigBienen77", "recount.varroa.9"])
def test_words_of_this_place_are_not_enough(password: str) -> None:
    with pytest.raises(ValidationError, match="guessed first"):
        WordsOfThisPlace().validate(password)


@pytest.mark.parametrize(
    "password", ["honey and a lamp-post", "four walls at noon", "try-it-out-7", "x7K!pq-recount-Zz19"]
)
def test_other_passwords_may_hold_them(password: str) -> None:
    WordsOfThisPlace().validate(password)


def test_name_of_ones_own_club_is_not_enough(cast: Cast) -> None:
    word = max(cast.alice.membership.club.name.lower().split(), key=len)
    assert len(word) >= 4

    with pytest.raises(ValidationError) as refused:
        validate_password(f"{word}{word}99", cast.alice)
    assert "words_of_this_place" in {error.code for error in refused.value.error_list}
    WordsOfThisPlace().validate(f"{word}{word}99")  # for somebody else it is a word like others
