"""What opens something to whoever reads it does not stand in the log."""

import pytest

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
        ("554 <alice.b+c@mail.example.org> refused", "554 <…@…> refused"),
        ("redis://:hidden@10.0.0.5:6379/0 is away", "redis://…@10.0.0.5:6379/0 is away"),
        ("Authorization: Bearer abcDEF123.xyz", "Authorization: Bearer …"),
        ("{'password': 'honey bees', 'kind': 'wash'}", "{'password': …, 'kind': 'wash'}"),
        ("?token=abc&page=2", "?token=…&page=2"),
        ("at 52.5163, -13.37771 in 300 bees", "at …, … in 300 bees"),
        ("succeeded in 0.0123456s: None", "succeeded in 0.0123456s: None"),
        ("cell 871fb4662ffffff", "cell …"),
        ("key q8Zk2mWq0PzL5hT7yXc9Vb3N gone", "key … gone"),
        ("task 3f2b8c1e-8a40-4e5f-9d5a-0f8d1c2b3a4e", "task 3f2b8c1e-8a40-4e5f-9d5a-0f8d1c2b3a4e"),
        ("Key exists.\nDETAIL:  Key (email)=(x) exists.", "Key exists.\nDETAIL: …"),
    ],
)
def test_words_of_links_are_left_out(line: str, left: str) -> None:
    assert masked(line) == left
