"""The disclosure audit: what can be worked out of single keepers from all that pages show, under the rules and without.

The attacker is `tests.access.attacker`, the club `tests.access.crowd`. Published pages are read as a browser gets them;
live figures as they are shown, to one decimal, of every part that is told apart. The rules that are tested come from
method: small counts and dominance (common practice), and one look at each month.

Run with -s it prints the table that docs/reference/figures.md quotes.
"""

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import h3
import pytest
from django.db import transaction
from django.test import Client

from apiaries.models import Person
from counts.samples import Kind
from reports import areas, figures, parts, pressure
from reports.actions import open_public_page
from reports.figures import refresh_marked
from reports.models import AreaMonth, BroodSeen, Publication, RegionMonth
from reports.parts import Part
from reports.publishing import PER, publish_due
from tests.access.attacker import Loot, Mean, everywhere, largest_keepers
from tests.access.crowd import MONTHS, USUAL, YEAR, Cell, Crowd, Vote, make_crowd, mark

SOON, LATER = (dt.datetime(YEAR, 11, day, 12, tzinfo=dt.UTC) for day in (15, 16))
Means = dict[Cell, list[Mean]]
Cells = dict[Cell, list[Vote]]


@pytest.fixture(scope="module")
def made(django_db_setup: Any, django_db_blocker: Any) -> Iterator[Crowd]:
    """Made and published once; every test works in a savepoint of its own inside this transaction."""
    from django.core.management import call_command

    with django_db_blocker.unblock(), transaction.atomic():
        call_command("load_reference", verbosity=0)
        crowd = make_crowd()
        refresh_marked(at=SOON)
        publish_due(at=SOON)
        yield crowd
        transaction.set_rollback(True)


@pytest.fixture
def crowd(made: Crowd, db: Any, time_machine: Any) -> Crowd:
    time_machine.move_to(LATER)
    return made


def _no_thresholds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever somebody counted is shown."""
    for module in (pressure, parts):
        monkeypatch.setattr(module, "suppress_reason", lambda *_: None)


def _published(client: Client, crowd: Crowd, page: str = "/regions/published/") -> Means:
    """Every figure of every page of published months, from the pages' words."""
    names = {region.name for region in crowd.club.regions.all()}
    found: Means = defaultdict(list)
    for kind in USUAL:
        answer = client.get(page, {"kind": kind.value, "year": YEAR})
        text = answer.content.decode() if answer.status_code == 200 else ""
        for month in MONTHS:
            row = re.search(rf'<th scope="row">{month:%b %Y}<(.*?)</tr>', text, re.S)
            for name, told in re.findall(r'<td data-label="([^"]+)">(.*?)</td>', row[1] if row else "", re.S):
                cell, figure = (
                    (name, month, kind.value),
                    re.search(r"<strong>([\d.]+|None found)</strong>", told),
                )
                assert name in names
                if figure:
                    yards = frozenset(vote.yard for vote in crowd.votes[cell])
                    none = figure[1] == "None found"
                    found[cell].append(Mean(yards, 0.0 if none else float(figure[1]), none))
    return found


def _live(crowd: Crowd, cells: Cells, kinds_of_part: tuple[Part, ...] = tuple(Part)) -> Means:
    """Every figure of the pages for those who see them as they are now, to the decimal they are shown with."""
    found: Means = defaultdict(list)
    rows = RegionMonth.objects.filter(region__club=crowd.club, frozen_at=None, part__in=kinds_of_part)
    for row in rows.exclude(rate=None).select_related("region"):
        cell = (row.region.name, row.month, row.kind)
        yards = frozenset(vote.yard for vote in cells[cell] if row.part in _parts_of(vote))
        assert len(yards) == row.yards
        shown = Decimal(str(row.rate * PER[Kind(row.kind)])).quantize(Decimal("0.1"), ROUND_HALF_UP)
        found[cell].append(Mean(yards, float(shown), row.mites == 0))
    return found


def _pieces(crowd: Crowd) -> Means:
    """Every piece of every map, as it is shown."""
    found: Means = defaultdict(list)
    rows = AreaMonth.objects.filter(region__club=crowd.club).exclude(piece="").select_related("region")
    finest: dict[Cell, list[str]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: -h3.get_resolution(row.piece)):
        cell = (row.region.name, row.month, row.kind)
        yards = frozenset(
            vote.yard
            for vote in crowd.votes[cell]
            if _within(vote, row.piece) and not any(_within(vote, piece) for piece in finest[cell])
        )
        assert len(yards) == row.yards
        finest[cell].append(row.piece)
        shown = Decimal(str(row.rate * PER[Kind(row.kind)])).quantize(Decimal("0.1"), ROUND_HALF_UP)
        found[cell].append(Mean(yards, float(shown), row.mites == 0))
    return found


def _within(vote: Vote, piece: str) -> bool:
    return bool(h3.cell_to_parent(vote.row.yard.cell, h3.get_resolution(piece)) == piece)


def _parts_of(vote: Vote) -> set[Part]:
    days = vote.row.treated_days
    brood = Part.WITH_BROOD if vote.row.brood == BroodSeen.WITH else Part.WITHOUT_BROOD
    treated = Part.NOT_TREATED if days is None else Part.TREATED_LATELY if days < 42 else Part.TREATED_BEFORE
    return {Part.ALL, brood, treated}


def _two_looks(crowd: Crowd, kinds_of_part: tuple[Part, ...]) -> tuple[Cells, Means]:
    """Live figures before and after one more yard of each cell is logged."""
    first = _live(crowd, crowd.votes, kinds_of_part)
    crowd.come_late()
    refresh_marked(at=LATER)
    cells = {cell: [*votes, crowd.late[cell]] for cell, votes in crowd.votes.items()}
    for cell, means in _live(crowd, cells, kinds_of_part).items():
        first[cell] += means
    return cells, first


def _anew(crowd: Crowd) -> None:
    """All live figures again, under whatever rules there are now."""
    mark(vote.row for votes in crowd.votes.values() for vote in votes)
    refresh_marked(at=SOON)


def _told(who: str, loot: Loot) -> Loot:
    print(f"\n| {who} | {loot.tried} | {loot.recovered} | {loot.low} |", end="")  # noqa: T201
    assert not loot.wrong
    return loot


def test_stranger_gets_no_figure(crowd: Crowd, client_for: Callable[[Person | None], Client]) -> None:
    assert not _published(client_for(None), crowd)


def test_outsider_recovers_nobody(crowd: Crowd, client_for: Callable[[Person | None], Client]) -> None:
    page = open_public_page(club=crowd.club, at=SOON, by=crowd.coordinator)
    inside = _published(client_for(crowd.member), crowd)
    means = _published(client_for(None), crowd, f"/published/{page.word}/")
    assert 10 < len(means) < len(inside)
    assert all(inside[cell] == shown for cell, shown in means.items())
    assert all(len({vote.keeper for vote in crowd.votes[cell]}) >= 5 for cell in means)

    assert not _told("outsider, the club's public page", everywhere(crowd.votes, means)).recovered


def test_member_recovers_nobody(crowd: Crowd, client_for: Callable[[Person | None], Client]) -> None:
    client = client_for(crowd.member)
    means = _published(client, crowd)
    assert len(means) > 20
    crowd.come_late()
    refresh_marked(at=LATER)
    publish_due(at=LATER)
    assert _published(client, crowd) == means  # a second look shows what the first did

    assert not _told("member", everywhere(crowd.votes, means)).recovered


def test_member_who_knows_their_own_counts_recovers_nobody(
    crowd: Crowd, client_for: Callable[[Person | None], Client]
) -> None:
    means = _published(client_for(crowd.member), crowd)

    loot = _told("member, own counts known", everywhere(crowd.votes, means, largest_keepers))
    assert loot.tried > 100 and not loot.recovered


def test_coordinator_recovers_nobody_from_all_parts_at_one_moment(crowd: Crowd) -> None:
    means = _live(crowd, crowd.votes)
    assert sum(map(len, means.values())) > len(means)

    assert not _told("coordinator, one moment", everywhere(crowd.votes, means)).recovered


def test_coordinator_recovers_nobody_from_the_map_beside_all_parts(crowd: Crowd) -> None:
    means, pieces = _live(crowd, crowd.votes), _pieces(crowd)
    assert sum(map(len, pieces.values())) > 10

    assert not _told("coordinator, one moment, the map too", _together(crowd, means, pieces)).recovered


def test_with_every_piece_on_the_map_some_would_be_recovered(
    crowd: Crowd, monkeypatch: pytest.MonkeyPatch
) -> None:
    means = _live(crowd, crowd.votes)
    _no_thresholds(monkeypatch)
    monkeypatch.setattr(areas, "suppress_reason", lambda *_: None)
    monkeypatch.setattr(areas, "given_away", lambda *_: False)
    _anew(crowd)
    pieces = {cell: shown for cell, shown in _pieces(crowd).items() if cell in means}

    assert _told("rules off: every piece on the map", _together(crowd, means, pieces)).recovered


def _together(crowd: Crowd, means: Means, pieces: Means) -> Loot:
    return everywhere(crowd.votes, {cell: [*shown, *pieces.get(cell, [])] for cell, shown in means.items()})


def test_coordinator_who_looks_twice_does_recover(crowd: Crowd) -> None:
    """The accepted limit that docs/explanation/small-groups.md names."""
    cells, means = _two_looks(crowd, tuple(Part))

    assert _told("coordinator, before and after one more yard", everywhere(cells, means)).recovered


def test_with_live_figures_members_would_recover_some(crowd: Crowd) -> None:
    cells, means = _two_looks(crowd, (Part.ALL,))

    assert _told("rules off: members see live figures", everywhere(cells, means)).recovered


def test_without_thresholds_members_would_recover_some(
    crowd: Crowd, client_for: Callable[[Person | None], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    Publication.objects.all().delete()
    RegionMonth.objects.all().delete()
    _no_thresholds(monkeypatch)
    _anew(crowd)
    publish_due(at=SOON)
    means = _published(client_for(crowd.member), crowd)

    loot = _told(
        "rules off: no thresholds, own counts known", everywhere(crowd.votes, means, largest_keepers)
    )
    assert loot.recovered


def test_with_every_part_shown_some_would_be_recovered(crowd: Crowd, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = _live(crowd, crowd.votes, (Part.ALL,))
    _no_thresholds(monkeypatch)
    monkeypatch.setattr(
        figures, "shown_parts", lambda masks, _: {part for part in masks if masks[part].any()}
    )
    _anew(crowd)
    means = {cell: shown for cell, shown in _live(crowd, crowd.votes).items() if cell in whole}

    assert _told("rules off: every part shown", everywhere(crowd.votes, means)).recovered
