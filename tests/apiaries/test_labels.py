"""Hive labels on paper: where they lie, what they say, and that a decoder reads them at print size."""

from typing import Any

import pytest
from django.urls import reverse

from apiaries.label_sheets import BY_KEY, GRIDS, INSET, Sheet, labels_data, labels_pdf, spaced, trial_page_pdf
from apiaries.models import Colony
from apiaries.paper import Paper
from tests.printed import SIZES, codes_in, pages_of, picture_of, says_all, size_of, words_of

MM = 25.4
LONG = "[#pagebreak()] " + "M" * 25
DPI = 200


def address_of(code: str) -> str:
    return f"https://recount.example.org/l/{code}/"


def printed(colonies: list[Colony], sheet: Sheet) -> bytes:
    return labels_pdf(colonies, sheet, address_of=address_of, title="Hive labels, Home yard")


@pytest.mark.parametrize("grid", GRIDS, ids=lambda grid: grid.key)
def test_grid_lies_on_its_paper(grid: Any) -> None:
    width, height = (points / 72 * MM for points in SIZES[grid.paper.value])
    left, top = grid.place(grid.number - 1)

    assert left + grid.width <= width + 0.1 and top + grid.height <= height + 0.1
    # Centred on the paper to half a millimetre, as sheets of labels are.
    assert grid.left == pytest.approx(width - left - grid.width, abs=0.6)
    assert grid.top == pytest.approx(height - top - grid.height, abs=0.6)


@pytest.mark.parametrize("grid", GRIDS, ids=lambda grid: grid.key)
def test_codes_are_read_at_print_size_and_lie_in_their_labels(cast: Any, grid: Any) -> None:
    Colony.objects.filter(pk=cast.colony.pk).update(name=LONG)
    cast.colony.refresh_from_db()
    sheet = Sheet(grid, start=2)
    made = printed(cast.colonies[:4], sheet)

    found = codes_in(picture_of(made, dpi=DPI))

    assert [one.text for one in found] == [address_of(colony.label_code) for colony in cast.colonies[:4]]
    assert {one.ec_level for one in found} <= {"Q", "H"}
    for at, one in enumerate(found, start=1):
        left, top = grid.place(at)
        corner = one.position.top_left
        assert left + INSET <= corner.x / DPI * MM <= left + grid.width - INSET
        assert top + INSET <= corner.y / DPI * MM <= top + grid.height - INSET
    assert says_all(made, labels_data(cast.colonies[:4], sheet, address_of=address_of, title="")) == []
    assert size_of(made) == pytest.approx(SIZES[grid.paper.value], abs=1)


def test_code_is_read_with_propolis_on_a_part_of_it(cast: Any) -> None:
    grid = BY_KEY["a4-3x8"]
    picture = picture_of(printed(cast.colonies[:1], Sheet(grid)), dpi=300)
    (whole,) = codes_in(picture)
    across = whole.position.top_right.x - whole.position.top_left.x
    x, y = whole.position.top_left.x + across // 2, whole.position.top_left.y + across // 2
    blot = across // 8
    picture[y - blot : y + blot, x - blot : x + blot] = 0

    assert [one.text for one in codes_in(picture)] == [address_of(cast.colony.label_code)]


def test_four_light_modules_stand_round_every_code(cast: Any) -> None:
    # ISO/IEC 18004: a quiet zone of four modules. Level Q of such an address is version 4, 33 modules across.
    grid = BY_KEY["letter-3x10"]
    picture = picture_of(printed(cast.colonies[:1], Sheet(grid)), dpi=600)
    (code,) = codes_in(picture)
    left, top = code.position.top_left.x, code.position.top_left.y
    side = code.position.top_right.x - left
    module = side / 33

    assert side / 600 * MM > 15  # a phone held at arm's length still tells modules of half a millimetre apart
    quiet = int(4 * module) - 3
    around = picture[top - quiet : top + side + quiet, left - quiet : left + side + quiet].copy()
    around[quiet - 3 : quiet + side + 3, quiet - 3 : quiet + side + 3] = 255
    assert around.min() > 200


def test_offsets_and_start_move_the_labels(cast: Any) -> None:
    grid = BY_KEY["a4-3x7"]

    def corner(sheet: Sheet) -> tuple[float, float]:
        (code,) = codes_in(picture_of(printed(cast.colonies[:1], sheet), dpi=DPI))
        return code.position.top_left.x / DPI * MM, code.position.top_left.y / DPI * MM

    x, y = corner(Sheet(grid))
    assert corner(Sheet(grid, right=3, below=-2)) == pytest.approx((x + 3, y - 2), abs=0.3)
    assert corner(Sheet(grid, start=5)) == pytest.approx((x + 66, y + 38.1), abs=0.3)


def test_labels_run_on_to_another_sheet(cast: Any) -> None:
    made = printed(cast.colonies, Sheet(BY_KEY["a4-2x4"], start=6))

    assert len(pages_of(made)) == 2
    assert len(codes_in(picture_of(made, dpi=DPI, page=1))) == 3


@pytest.mark.parametrize("grid", GRIDS, ids=lambda grid: grid.key)
def test_trial_page_has_true_rulers_and_numbers_all_labels(grid: Any) -> None:
    made = trial_page_pdf(Sheet(grid, right=1))
    words = words_of(made)

    assert grid.words in words and "must be 150 mm long" in words
    assert size_of(made) == pytest.approx(SIZES[grid.paper.value], abs=1)
    dark = picture_of(made, dpi=254)[680:690] < 128  # 10 dots a millimetre; the ruler lies 68 mm down
    assert max(len(run) for run in "".join("x" if one else " " for one in dark.any(axis=0)).split()) == (
        pytest.approx(1500, abs=6)
    )


def test_page_makes_both_files_and_keeps_what_was_typed(cast: Any, client_for: Any) -> None:
    url = reverse("apiaries:hive-labels", args=[cast.alice_yard.pk])
    asked: dict[str, Any] = {
        "make": "labels",
        "sheet": "letter-3x10",
        "colonies": [cast.colony.pk],
        "start": "3",
        "right": "−1,5",
        "below": "",
    }
    bob = client_for(cast.bob)

    labels, trial = bob.get(url, asked), bob.get(url, asked | {"make": "test"})
    (code,) = codes_in(picture_of(labels.content, dpi=DPI))
    assert code.text == f"http://testserver{reverse('apiaries:label', args=[cast.colony.label_code])}"
    assert labels["Content-Type"] == trial["Content-Type"] == "application/pdf"
    assert "Test page" in words_of(trial.content)

    for wrong, words in (
        ({"start": "31"}, "This sheet has 30 labels."),
        ({"start": "0"}, "Enter a whole number from 1 on."),
        ({"right": "50"}, "from −20 to 20"),
        ({"below": "much"}, "from −20 to 20"),
        ({"colonies": []}, "Choose at least one colony."),
        ({"colonies": ["999999"]}, "gone by now"),
        ({"sheet": "a5"}, "Choose one of these sheets."),
    ):
        page = bob.get(url, asked | wrong).content.decode()
        assert words in page and "There is a problem" in page
    assert 'value="31"' in bob.get(url, asked | {"start": "31"}).content.decode()


def test_only_living_colonies_of_the_yard_are_offered(cast: Any, client_for: Any) -> None:
    url = reverse("apiaries:hive-labels", args=[cast.charlie_yard.pk])
    page = client_for(cast.charlie).get(url)

    assert len(page.context["form"].fields["colonies"].choices) == 2


def test_code_is_spaced_for_reading_aloud() -> None:
    assert spaced("7K3M9QXY") == "7K3M 9QXY"
    assert {grid.paper for grid in GRIDS} == set(Paper)
