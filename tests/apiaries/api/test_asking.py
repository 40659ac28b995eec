"""Pages of lists, entity tags, limits and headers."""

import json
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.api.conditional import etag_of, require_match
from apiaries.api.problems import Problem
from config.log_lines import masked
from tests.api_asking import Program
from tests.cast import STARTED, Cast


def _all_pages(program: Program, path: str) -> list[list[str]]:
    pages = []
    while path:
        said = program.ask(path).json()
        pages.append([item["name"] for item in said["items"]])
        path = said["next"]
    return pages


def test_pages_hold_each_row_once(cast: Cast) -> None:
    assert _all_pages(Program(cast.alice), "colonies/?limit=4") == [["6", "5", "4", "3"], ["2", "1"]]
    assert _all_pages(Program(cast.alice), "colonies/?limit=3") == [["6", "5", "4"], ["3", "2", "1"]]


def test_rows_that_come_in_meanwhile_neither_repeat_nor_skip_any(cast: Cast) -> None:
    program = Program(cast.alice)
    first = program.ask("colonies/?limit=4&living=true").json()

    add_numbered_colonies(yard=cast.alice_yard, first=7, last=9, started_on=STARTED, by=cast.alice)

    assert _all_pages(program, first["next"]) == [["2", "1"]]


def test_a_cursor_shows_another_person_nothing(cast: Cast) -> None:
    following = Program(cast.alice).ask("colonies/?limit=4").json()["next"]

    assert _all_pages(Program(cast.zoe), following) == [[]]


def test_a_cursor_that_was_changed_is_refused(cast: Cast) -> None:
    following = Program(cast.alice).ask("colonies/?limit=4").json()["next"]

    for wrong in (following[:-1], following + "a", following.replace("cursor=", "cursor=a")):
        assert Program(cast.alice).ask(wrong).status_code == 400


def test_pages_tell_no_totals(cast: Cast) -> None:
    assert set(Program(cast.alice).ask("colonies/").json()) == {"items", "next"}


def test_unchanged_things_are_not_sent_again(cast: Cast) -> None:
    program, path = Program(cast.alice), f"yards/{cast.alice_yard.pk}/"
    first = program.ask(path)
    assert first["Cache-Control"] == "private, no-cache"

    again = program.ask(path, **{"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again["ETag"] == first["ETag"]
    assert program.ask(path, **{"If-None-Match": f'"x", W/{first["ETag"]}'}).status_code == 304

    add_yard(keeper=cast.alice, region=cast.south, name="Heath", by=cast.alice)
    assert program.ask(path, **{"If-None-Match": first["ETag"]}).status_code == 304
    cast.alice_yard.name = "Garden"
    cast.alice_yard.save()
    changed = program.ask(path, **{"If-None-Match": first["ETag"]})
    assert changed.status_code == 200 and changed["ETag"] != first["ETag"]


def test_tags_tell_people_apart_who_see_different_things(cast: Cast) -> None:
    path = f"yards/{cast.alice_yard.pk}/"

    assert Program(cast.alice).ask(path)["ETag"] != Program(cast.ines).ask(path)["ETag"]


class _Request:
    def __init__(self, **headers: str) -> None:
        self.headers = headers


def test_a_change_needs_what_was_read() -> None:
    now = etag_of({"name": "Garden"})
    require_match(_Request(**{"If-Match": now}), now)
    require_match(_Request(**{"If-Match": f"W/{now}"}), now)  # compressed on its way to the reader
    require_match(_Request(**{"If-Match": f'"other", {now}'}), now)

    for headers, status in (
        ({}, 428),
        ({"If-Match": '"other"'}, 412),
        ({"If-Match": ""}, 412),
        ({"If-Match": "*"}, 412),
    ):
        with pytest.raises(Problem) as refused:
            require_match(_Request(**headers), now)
        assert refused.value.status_code == status
        assert refused.value.extra == {"ETag": now}


def test_tags_tell_states_apart() -> None:
    states = [{"a": 1}, {"a": "1"}, {"a": None}, {}, {"b": 1}, [{"a": 1}], {"a": 1, "b": 2}]

    assert len({etag_of(state) for state in states}) == len(states)
    assert etag_of({"b": 2, "a": 1}) == etag_of({"a": 1, "b": 2})


def _rates(settings: Any, **rates: str) -> None:
    usual = settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"]
    settings.REST_FRAMEWORK = settings.REST_FRAMEWORK | {"DEFAULT_THROTTLE_RATES": usual | rates}
    cache.clear()


def test_limits_are_those_that_are_written_down(settings: Any) -> None:
    assert settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"] == {
        "reads": "600/m", "writes": "120/m", "strangers": "30/m", "failed_tokens": "30/m"
    }  # fmt: skip
    assert "LocMem" not in settings.CACHES["default"]["BACKEND"]  # it would count each process by itself


def test_reads_of_one_person_are_limited_over_all_tokens(cast: Cast, settings: Any) -> None:
    _rates(settings, reads="3/m")
    programs = [Program(cast.alice) for _ in range(4)]

    answers = [program.ask("yards/") for program in programs]

    assert [answer.status_code for answer in answers] == [200, 200, 200, 429]
    assert 1 <= int(answers[3]["Retry-After"]) <= 60
    assert answers[3]["Content-Type"] == "application/problem+json"
    assert Program(cast.bob).ask("yards/").status_code == 200


def test_what_is_refused_counts_too(cast: Cast, settings: Any) -> None:
    _rates(settings, reads="2/m", writes="2/m")
    program = Program(cast.alice, "counts:read")

    assert [program.ask("yards/").status_code for _ in range(3)] == [403, 403, 429]
    assert [program.ask("yards/", "POST", {}).status_code for _ in range(3)] == [405, 405, 429]


def test_strangers_and_wrong_tokens_are_limited_by_address(cast: Cast, settings: Any) -> None:
    _rates(settings, strangers="2/m", failed_tokens="3/m")

    assert [Program(None).ask("yards/").status_code for _ in range(3)] == [401, 401, 429]
    wrong = [Program(None, word=f"rc_{n}").ask("yards/") for n in range(4)]
    assert [answer.status_code for answer in wrong] == [401, 401, 401, 429]
    assert int(wrong[3]["Retry-After"]) >= 1
    # Whoever has a right one is not locked out by others at the same address.
    assert Program(cast.alice).ask("yards/").status_code == 200


def test_strangers_without_an_address_are_asked_to_sign_in_too(cast: Cast, settings: Any) -> None:
    """As behind a socket of the same machine, where no address is known; they are counted together."""
    _rates(settings, strangers="2/m", failed_tokens="3/m")
    nowhere = [Client(REMOTE_ADDR=address) for address in ("", "unix:", "")]

    assert [client.get("/api/v1/yards/").status_code for client in nowhere] == [401, 401, 429]
    wrong = Client(REMOTE_ADDR="", headers={"Authorization": "Bearer rc_1"})
    assert [wrong.get("/api/v1/yards/").status_code for _ in range(4)] == [401, 401, 401, 429]
    right = Client(REMOTE_ADDR="", headers={"Authorization": f"Bearer {Program(cast.alice).word}"})
    assert right.get("/api/v1/yards/").status_code == 200


def test_no_cache_keeps_lists_and_refusals(cast: Cast) -> None:
    for path in ("yards/", "honey/", f"yards/{cast.charlie_yard.pk}/"):
        assert Program(cast.alice).ask(path)["Cache-Control"] == "private, no-store"


def test_me_says_whose_token_it_is_and_what_for(cast: Cast) -> None:
    said = Program(cast.dana, "counts:read", "yards:read").ask("me/").json()

    assert said["name"] == "Dana"
    assert said["club"] == {"name": "Test club", "role": "coordinator"}
    assert said["token"]["name"] == "test"
    assert said["token"]["scopes"] == ["yards:read", "counts:read"]
    assert "@" not in json.dumps(said)


def test_logs_do_not_tell_tokens(cast: Cast, caplog: Any) -> None:
    program = Program(cast.alice)
    with caplog.at_level("DEBUG"):
        program.ask("yards/"), program.ask("honey/"), program.ask("yards/?region=x")

    assert program.word not in caplog.text
    assert masked(f"GET /api/v1/yards/?token={program.word} 400") == "GET /api/v1/yards/?token=… 400"
    assert masked(f"the word {program.word} is not known") == "the word rc_… is not known"


def test_the_description_is_the_same_for_everybody(cast: Cast, client_for: Any) -> None:
    url = reverse("api:schema")

    texts = {client_for(person).get(url).content for person in (None, cast.alice, cast.adam)}

    assert len(texts) == 1
    assert texts.pop().startswith(b"openapi: 3.1.0")


def test_the_page_names_every_operation_and_problem(cast: Cast, client_for: Any) -> None:
    page = client_for(None).get(reverse("api:docs")).content.decode()

    for words in ("GET /api/v1/yards/", "GET /api/v1/colonies/{id}/", "yards:read", 'id="problem-scope"'):
        assert words in page
