"""What several parts of a page need is read once for the page."""

from typing import Any

from apiaries.on_page import YardOnPage
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
