"""Packed pieces of a page with a token in between are one gzip file."""

import gzip
import zlib

from hypothesis import given
from hypothesis import strategies as st

from apiaries.packed_pages import PackedPage

PLACE = "f0" * 32
pieces = st.lists(st.text(max_size=400), min_size=1, max_size=5)


@given(pieces, st.text("abcXYZ0189", max_size=64))
def test_unpacks_to_the_page_with_this_token(told: list[str], token: str) -> None:
    page = PackedPage.of(PLACE.join(told), token_place=PLACE)
    whole = token.join(told).encode()

    assert page.as_text(token) == whole
    assert gzip.decompress(page.as_gzip(token)) == whole
    assert page.has_token is (len(told) > 1)


def test_is_one_member_that_strict_readers_take() -> None:
    page = PackedPage.of(f"<p>a</p>{PLACE}<p>{'b' * 70_000}</p>", token_place=PLACE)
    reader = zlib.decompressobj(16 + zlib.MAX_WBITS)

    text = reader.decompress(page.as_gzip("secret"))

    assert reader.eof and not reader.unused_data
    assert len(text) == len(page.as_text("secret"))


def test_token_is_packed_with_nothing() -> None:
    """A guess elsewhere on the page that is right does not make it shorter (BREACH)."""
    page = PackedPage.of(f"<p>a guess that is right</p>{PLACE}", token_place=PLACE)

    right, wrong = (page.as_gzip(token) for token in ("a guess that is right", "another one, as long."))

    assert b"a guess that is right" in right  # as it is
    assert len(_after_name(right)) == len(_after_name(wrong))


def _after_name(packed: bytes) -> bytes:
    return packed[packed.index(b"\x00", 10) :]
