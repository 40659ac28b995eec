"""Papers with signs that the setter's fonts lack: told with a stand-in, never refused."""

import io
from pathlib import Path
from typing import Any

import pytest
import typst
from django.conf import settings
from pypdf import PdfReader

from apiaries import paper
from apiaries.paper import IN_ITS_PLACE, Paper, set_pdf

TEMPLATE = """#import "/apiaries/sheets/page.typ": sheet, told
#show: sheet.with(title: "Test", foot: "Foot")
= Test
#for line in told.lines [#line

]
"""


@pytest.fixture
def template(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A sheet of lines; templates stand under one folder, with a link to the shared one."""
    (tmp_path / "apiaries").symlink_to(Path(settings.BASE_DIR) / "apiaries")
    monkeypatch.setattr(settings, "BASE_DIR", tmp_path)
    made = tmp_path / "lines.typ"
    made.write_text(TEMPLATE)
    return made


def words(made: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(made)).pages)


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("Linden 🐝 honey", f"Linden {IN_ITS_PLACE} honey"),
        ("蜂蜜 from the hill", f"{IN_ITS_PLACE * 2} from the hill"),
        ("Ox\x01alic", f"Ox{IN_ITS_PLACE}alic"),
        ("Žluťoučký, Αθήνα, Київ", "Žluťoučký, Αθήνα, Київ"),
    ],
)
def test_what_no_font_has_is_shown_as_a_box_and_said(template: Path, typed: str, shown: str) -> None:
    made = words(set_pdf(template, {"lines": [typed]}, paper=Paper.A4))

    assert shown in made
    assert (f"{IN_ITS_PLACE} stands for a sign that these letters do not have." in made) is (typed != shown)


def test_long_odd_text_takes_few_tries(template: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tries: list[Any] = []
    compiled = typst.compile

    def counted(*given: Any, **more: Any) -> Any:
        tries.append(given)
        return compiled(*given, **more)

    monkeypatch.setattr(typst, "compile", counted)
    typed = "".join(chr(number) for number in range(0x4E00, 0x9000, 7))

    assert IN_ITS_PLACE * 100 in words(set_pdf(template, {"lines": [typed]}, paper=Paper.LETTER)).replace(
        "\n", ""
    )
    assert len(tries) <= paper.MOST_PROBES + 2


def test_another_mistake_of_a_sheet_is_not_taken_for_one_of_signs(template: Path) -> None:
    template.write_text("#nothing")

    with pytest.raises(typst.TypstError, match="unknown variable"):
        set_pdf(template, {"lines": []}, paper=Paper.A4)
