"""What opens something to whoever reads it does not stand in the log."""

import io
import logging
import logging.config

import pytest
from django.conf import settings
from django.test import Client

from config.log_lines import masked


@pytest.mark.parametrize(
    ("line", "left"),
    [
        ("Gone: /recount/WzEsMl0:abc-_9/", "Gone: /recount/…/"),
        ('"POST /mail/stop/WzEsMl0:1w:x/ HTTP/1.1" 200', '"POST /mail/stop/…/ HTTP/1.1" 200'),
        ("https://a.example/recount/x:y/?saved=2", "https://a.example/recount/…/?saved=2"),
        ("/join/abc/ and /recount/x:y and no slash", "/join/…/ and /recount/… and no slash"),
        ("/account/password/reset/key/1-abc-def/", "/account/password/reset/key/…/"),
        ("Not Found: /yards/12/", "Not Found: /yards/12/"),
    ],
)
def test_words_of_links_are_left_out(line: str, left: str) -> None:
    assert masked(line) == left


@pytest.mark.django_db
def test_the_log_of_a_refused_link_does_not_hold_its_word() -> None:
    handler = logging.StreamHandler(io.StringIO())
    made = settings.LOGGING["formatters"]["line"]
    handler.setFormatter(logging.config.DictConfigurator({"version": 1}).configure_formatter(dict(made)))
    logger = logging.getLogger("django.request")
    logger.addHandler(handler)
    try:
        Client().get("/recount/WzEsMl0:SECRET/")
    finally:
        logger.removeHandler(handler)

    said = handler.stream.getvalue()
    assert "/recount/…/" in said
    assert "SECRET" not in said
