"""What several parts of a page need is read once for the page."""

from typing import Any

from apiaries.drawn_from import standing_of_yard
from apiaries.models import Colony, Visit, YardHelper
from apiaries.on_page import YardOnPage
from tests.apiaries.broken_visits import planned
from tests.cast import Cast


def test_each_thing_is_read_once_for_its_arguments(cast: Cast) -> None:
    page, asked = YardOnPage(cast.alice, cast.alice_yard), []

    def read(page: YardOnPage, number: int, *, word: str = "") -> tuple[str, int, str]:
        asked.append((number, word))
        return page.yard.name, number, word

    found = [page.once(read, 1), page.once(read, 2), page.once(read, 1), page.once(read, 1, word="a")]

    assert found == [("Home yard", 1, ""), ("Home yard", 2, ""), ("Home yard", 1, ""), ("Home yard", 1, "a")]
    assert asked == [(1, ""), (2, ""), (1, "a")]


def test_nothing_that_was_found_is_kept_too(cast: Cast) -> None:
    page, asked = YardOnPage(cast.alice, cast.alice_yard), []

    def read(_page: YardOnPage) -> None:
        asked.append(1)

    assert (page.once(read), page.once(read)) == (None, None)
    assert len(asked) == 1


def test_another_page_reads_anew(cast: Cast, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(2):
        for _ in range(2):
            page = YardOnPage(cast.alice, cast.alice_yard)
            assert [len(page.living), len(page.living), len(page.colonies)] == [6, 6, 6]


def test_page_asks_only_for_what_it_may_have(cast: Cast) -> None:
    standing = standing_of_yard(cast.alice_yard.pk, cast.alice)
    assert standing is not None
    page = YardOnPage(cast.alice, cast.alice_yard, empty=standing.empty)

    assert page.may_have(Colony) and page.may_have(YardHelper)
    assert not page.may_have(Visit)

    visit = planned(cast)
    standing = standing_of_yard(visit.yard_id, cast.alice)
    assert standing is not None and "apiaries_visit" not in standing.empty


def test_table_listed_twice_is_empty_where_both_are(cast: Cast) -> None:
    """People are listed with the yard and with the files that were brought back: the second list is mostly empty."""
    standing = standing_of_yard(cast.alice_yard.pk, cast.alice)

    assert standing is not None and "apiaries_person" not in standing.empty


def test_page_of_which_nothing_is_known_may_have_everything(cast: Cast) -> None:
    assert YardOnPage(cast.alice, cast.alice_yard).may_have(Visit)
