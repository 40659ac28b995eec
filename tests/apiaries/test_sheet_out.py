"""Cells that no spreadsheet runs, and that are what they were once the guard is off."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apiaries.sheet_out import FORMULA_STARTS, guarded, unguarded

ODD = st.text(st.sampled_from("='+-@\t\r\n \u00a0\u200bab1\"\uff1d\u2212"), max_size=12)


@given(st.one_of(st.text(), ODD))
def test_guard_comes_off_again(text: str) -> None:
    assert unguarded(guarded(text)) == text


@given(st.one_of(st.text(), ODD))
def test_no_line_of_a_guarded_text_would_run(text: str) -> None:
    # Written apart from the code: skip what a program may skip, then look at the first sign.
    for line in guarded(text).replace("\r\n", "\n").replace("\r", "\n").split("\n"):
        assert line.lstrip("".join(map(chr, range(33))) + "\u00a0\u200b\ufeff")[:1] not in tuple(
            FORMULA_STARTS
        )


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("=1", "'=1"),
        (" \u00a0=1", "' \u00a0=1"),
        ("\ta", "'\ta"),
        ("\na", "'\na"),
        ("a\n=b", "a\n'=b"),
        ("a\r\n\t", "a\r\n'\t"),
        ("'=1", "''=1"),
        ("'tis", "''tis"),
        ("a=b", "a=b"),
        ("5 - 3", "5 - 3"),
        ("", ""),
        ("a\n\nb", "a\n\nb"),
    ],
)
def test_guard_stands_where_it_must(text: str, cell: str) -> None:
    assert guarded(text) == cell
