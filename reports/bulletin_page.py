"""What the page and the paper of a bulletin show: its kept words, and its kept figures as a table."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apiaries.templatetags.recount_words import day
from apiaries.zones import zone_of
from reports.bulletin_chart import chart_words
from reports.bulletin_figures import KindFigures, MonthFigures, RegionFigure, State
from reports.bulletin_words import Paragraph, month_words
from reports.kinds import KIND_WORDS
from reports.models import Bulletin


@dataclass(frozen=True)
class Line:
    """One region of the table, in words."""

    region: RegionFigure

    @property
    def nothing(self) -> str:
        """Why there is no figure; empty where there is one."""
        if self.region.state is State.NOT_COUNTED:
            return "– no samples"
        return self.region.why_hidden if self.region.state is State.HIDDEN else ""

    @property
    def rate(self) -> str:
        figure = self.region.figure
        return "" if figure is None else "None found" if figure.none_found else f"{figure.rate:.1f}"

    @property
    def range(self) -> str:
        figure = self.region.figure
        return "" if figure is None else f"up to {figure.high:.1f}" if figure.none_found else figure.range

    @property
    def median(self) -> str:
        return "" if self.region.median is None else f"{self.region.median:.1f}"

    @property
    def share(self) -> str:
        share = self.region.share
        return "–" if share is None else f"{share.told} ({share.range})"

    @property
    def before(self) -> str:
        before = self.region.before
        if before is None:
            return "–"
        return (
            f"none found (up to {before.high:.1f})"
            if before.none_found
            else f"{before.rate:.1f} ({before.range})"
        )

    @property
    def counted(self) -> str:
        """Keepers and yards as bands, and about how many bees."""
        told = [f"{self.region.keepers} keepers", f"{self.region.yards} yards", self.region.looked_at]
        return ", ".join(filter(None, told))

    @property
    def marks(self) -> str:
        """What is to be known of the figure."""
        told = ["unusually high"] * bool(self.region.high_beside)
        doubtful = self.region.uncertain and not self.region.none_found
        return ", ".join([*told, *(["uncertain"] if doubtful else [])])


@dataclass(frozen=True)
class KindTable:
    """One kind of count."""

    kind: KindFigures

    @property
    def title(self) -> str:
        return f"{KIND_WORDS[self.kind.kind]}, mites {self.kind.unit}"

    @property
    def alt(self) -> str:
        """What the chart shows, in words."""
        return chart_words(self.kind)

    @property
    def lines(self) -> list[Line]:
        return [Line(region) for region in self.kind.regions]

    @property
    def level(self) -> str:
        """The action level that shares are about."""
        return next((f"{one.share.level:g}" for one in self.kind.regions if one.share), "")

    @property
    def has_before(self) -> bool:
        return any(one.before for one in self.kind.regions)

    def first_lines(self) -> list[Line]:
        """Those with a figure, so that the paper can leave out from the end: unusual ones, then the surer, then by
        name (our choice)."""
        shown = [region for region, _ in self.kind.shown]
        return [Line(one) for one in sorted(shown, key=lambda one: (not one.high_beside, one.uncertain))]


@dataclass(frozen=True)
class BulletinPage:
    """A bulletin in its club's own time."""

    bulletin: Bulletin
    figures: MonthFigures

    @property
    def title(self) -> str:
        return f"Bulletin for {month_words(self.bulletin.month)}"

    @property
    def foreword(self) -> list[str]:
        """Its paragraphs: an empty line, or any line break, ends one."""
        return [line.strip() for line in self.bulletin.foreword.splitlines() if line.strip()]

    @property
    def paragraphs(self) -> list[Paragraph]:
        return [Paragraph(title, text) for title, text in self.bulletin.words]

    @property
    def tables(self) -> Sequence[KindTable]:
        return [KindTable(kind) for kind in self.figures.kinds]

    @property
    def last_year(self) -> int:
        return self.bulletin.month.year - 1

    @property
    def standing(self) -> str:
        """Draft, issued or withdrawn, by whom and when."""
        one = self.bulletin
        if one.issued_at is None or one.issued_by is None:
            who = f"by {one.made_by.name}" if one.made_by else "by itself, as the month was published"
            return f"Draft, made {who}, {self._day(one.made_at)}. Members do not see it."
        issued = f"Issued by {one.issued_by.name}, {self._day(one.issued_at)}."
        if one.withdrawn_at is None or one.withdrawn_by is None:
            return issued
        return f"{issued} Withdrawn by {one.withdrawn_by.name}, {self._day(one.withdrawn_at)}: {one.withdrawn_why}"

    def _day(self, moment: dt.datetime) -> str:
        return day(moment.astimezone(zone_of(self.bulletin.club.time_zone)))


def bulletin_page(bulletin: Bulletin) -> BulletinPage:
    """From what is kept of it, so that it is the same whenever it is opened."""
    return BulletinPage(bulletin, MonthFigures.from_kept(bulletin.figures))
