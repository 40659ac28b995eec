"""What all processes keep together takes one statement each, and says what Django's own would say."""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache.backends.db import DatabaseCache
from django.db import connection, transaction

from config import shared_cache
from config.shared_cache import OwnCache, SharedCache

pytestmark = pytest.mark.django_db


def kept(kind: type[DatabaseCache] = SharedCache, **options: Any) -> DatabaseCache:
    return kind("config_cache", {"OPTIONS": options})


@pytest.mark.parametrize("value", ["Wörter", b"\x00\xff", 0, None, {"a": [1, 2]}])
def test_what_is_kept_comes_back(value: object) -> None:
    kept().set("one", "before")
    kept().set("one", value)

    assert kept().get("one", "nothing") == value
    assert kept(DatabaseCache).get("one", "nothing") == value  # a release before this one reads it


def test_one_statement_each(django_assert_num_queries: Any) -> None:
    cache = kept()
    with django_assert_num_queries(3):  # those around it are of the test's own transaction
        cache.set("one", 1)
    with django_assert_num_queries(3):
        cache.add("one", 2)


@pytest.mark.parametrize("kind", [DatabaseCache, SharedCache])
def test_adding_keeps_what_holds_and_replaces_what_has_run_out(kind: type[DatabaseCache]) -> None:
    cache = kept(kind)

    assert cache.add("one", "first")
    assert not cache.add("one", "second")
    assert cache.get("one") == "first"
    cache.set("one", "old", timeout=-5)
    assert cache.add("one", "third")
    assert cache.get("one") == "third"


@pytest.mark.parametrize("kind", [DatabaseCache, SharedCache])
def test_what_has_run_out_is_gone(kind: type[DatabaseCache]) -> None:
    cache = kept(kind)
    cache.set("one", 1, timeout=-5)
    cache.set("forever", 1, timeout=None)

    assert (cache.get("one"), cache.get("forever")) == (None, 1)
    assert not cache.touch("one") and cache.touch("forever", 60)


def test_failing_leaves_the_transaction_around_it_whole() -> None:
    with transaction.atomic():
        assert SharedCache("no_such_table", {}).add("one", 1) is False
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            assert cursor.fetchone() == (1,)


def test_too_many_are_counted_now_and_then(
    monkeypatch: pytest.MonkeyPatch, shared_cache_is_not_counted: Callable[[], bool]
) -> None:
    cache = kept(MAX_ENTRIES=5)
    for number in range(9):
        cache.set(f"key{number}", number)
    monkeypatch.setattr(shared_cache.random, "randrange", lambda _: 0)
    monkeypatch.setattr(shared_cache, "happens_to_count", shared_cache_is_not_counted)

    cache.set("last", 1)

    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM config_cache")
        assert cursor.fetchone()[0] <= 7


@pytest.mark.django_db(transaction=True)
def test_one_of_many_at_once_adds() -> None:
    begin, said = threading.Barrier(8), []

    def add(number: int) -> None:
        begin.wait(30)
        said.append(kept().add("one", number))
        connection.close()

    threads = [threading.Thread(target=add, args=[number]) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)

    assert sorted(said) == [False] * 7 + [True]


def test_what_a_process_keeps_goes_when_it_has_run_out() -> None:
    own = OwnCache("one process", {})
    own.set("old", 1, timeout=-1)
    own.set("forever", 1, timeout=None)
    own.set("new", 1)

    assert [key in str(list(own._cache)) for key in ("old", "forever", "new")] == [False, True, True]
