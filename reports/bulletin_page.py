"""What the page and the paper of a bulletin show: its kept words, and its kept figures as a table."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.utils.translation import get_language

from apiaries.language import figure as written
from apiaries.language import say
from apiaries.templatetags.recount_words import day
from apiaries.zones import zone_of
from reports.bulletin_chart import chart_words
from reports.bulletin_figures import KindFigures, MonthFigures, RegionFigure, State
from reports.bulletin_pieces import month_words
from reports.bulletin_words import Paragraph
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
            return say("– no samples")
        return say(self.region.why_hidden) if self.region.state is State.HIDDEN else ""

    @property
    def rate(self) -> str:
        figure = self.region.figure
        return "" if figure is None else say("None found") if figure.none_found else figure.told

    @property
    def range(self) -> str:
        figure = self.region.figure
        if figure is None:
            return ""
        return say("up to {most}", most=figure.most) if figure.none_found else figure.range

    @property
    def median(self) -> str:
        return "" if self.region.median is None else written(f"{self.region.median:.1f}")

    @property
    def share(self) -> str:
        share = self.region.share
        return "–" if share is None else f"{share.told} ({share.range})"

    @property
    def before(self) -> str:
        before = self.region.before
        if before is None:
            return "–"
        if before.none_found:
            return say("none found (up to {most})", most=before.most)
        return f"{before.told} ({before.range})"

    @property
    def counted(self) -> str:
        """Keepers and yards as bands, and about how many bees."""
        one = self.region
        told = say("{keepers} keepers, {yards} yards", keepers=one.keepers, yards=one.yards)
        return ", ".join(filter(None, [told, one.looked_at]))

    @property
    def marks(self) -> str:
        """What is to be known of the figure."""
        told = [say("unusually high")] if self.region.high_beside else []
        doubtful = self.region.uncertain and not self.region.none_found
        return ", ".join([*told, *([say("uncertain")] if doubtful else [])])


@dataclass(frozen=True)
class KindTable:
    """One kind of count."""

    kind: KindFigures

    @property
    def title(self) -> str:
        return say("{kind}, mites {unit}", kind=say(KIND_WORDS[self.kind.kind]), unit=self.kind.unit)

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
        return next((written(f"{one.share.level:g}") for one in self.kind.regions if one.share), "")

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
        return say("Bulletin for {month}", month=self.month)

    @property
    def month(self) -> str:
        return month_words(self.bulletin.month)

    @property
    def foreword(self) -> list[str]:
        """Its paragraphs: an empty line, or any line break, ends one."""
        return [line.strip() for line in self.bulletin.foreword.splitlines() if line.strip()]

    @property
    def paragraphs(self) -> list[Paragraph]:
        kept = self.bulletin.words
        found = kept if isinstance(kept, list) else kept[self.language]
        return [Paragraph(title, text) for title, text in found]

    @property
    def language(self) -> str:
        """The language of its paragraphs: the reader's, where it was written in that."""
        kept, asked = self.bulletin.words, get_language() or settings.LANGUAGE_CODE
        return asked if not isinstance(kept, list) and asked in kept else settings.LANGUAGE_CODE

    @property
    def other_language(self) -> str:
        """The same where it is not the reader's, so that the page can say so; else empty."""
        return "" if self.language == get_language() else self.language

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
            return self._drafted
        issued = say("Issued by {name}, {day}.", name=one.issued_by.name, day=self._day(one.issued_at))
        if one.withdrawn_at is None or one.withdrawn_by is None:
            return issued
        withdrawn = say(
            "Withdrawn by {name}, {day}: {why}",
            name=one.withdrawn_by.name,
            day=self._day(one.withdrawn_at),
            why=one.withdrawn_why,
        )
        return f"{issued} {withdrawn}"

    @property
    def _drafted(self) -> str:
        made_by, on = self.bulletin.made_by, self._day(self.bulletin.made_at)
        if made_by is None:
            return say(
                "Draft, made by itself, as the month was published, {day}. Members do not see it.", day=on
            )
        return say("Draft, made by {name}, {day}. Members do not see it.", name=made_by.name, day=on)

    def _day(self, moment: dt.datetime) -> str:
        return day(moment.astimezone(zone_of(self.bulletin.club.time_zone)))


def bulletin_page(bulletin: Bulletin) -> BulletinPage:
    """From what is kept of it, so that it is the same whenever it is opened."""
    return BulletinPage(bulletin, MonthFigures.from_kept(bulletin.figures))
