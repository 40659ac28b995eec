"""What was ticked in the yard, as the form that ends the day begins with it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from apiaries.zones import zone_of
from treatments.models import DaySheet, SheetHive, SheetMark, Step


@dataclass(frozen=True, slots=True)
class Worked:
    """The sheet as it was worked: hives, what was ticked at each in words, which were treated, first and last tick."""

    hives: Sequence[SheetHive]
    ticked: dict[int, str]
    treated: set[int]
    began: dt.time | None
    ended: dt.time | None
    zone: ZoneInfo


def worked(sheet: DaySheet) -> Worked:
    """Read from the ticks that stand; without any, every hive is taken as treated. Two queries."""
    zone = zone_of(sheet.round.treatment.yard.time_zone)
    hives = list(sheet.hives.select_related("colony"))
    marks = list(SheetMark.objects.filter(hive__sheet=sheet, undone_at=None).order_by("at", "pk"))
    of: dict[int, list[SheetMark]] = defaultdict(list)
    for mark in marks:
        of[mark.hive_id].append(mark)
    started = {mark.hive_id for mark in marks if mark.step != Step.LEFT_OUT}
    left_out = {mark.hive_id for mark in marks if mark.step == Step.LEFT_OUT}
    times = [mark.at.astimezone(zone) for mark in marks if mark.step != Step.LEFT_OUT]
    return Worked(
        hives=hives,
        ticked={key: "; ".join(_words(mark, zone) for mark in own) for key, own in of.items()},
        treated=(started if marks else {hive.pk for hive in hives}) - left_out,
        began=_minute(times[0]) if times else None,
        ended=_minute(times[-1]) if times else None,
        zone=zone,
    )


def _minute(moment: dt.datetime) -> dt.time:
    return dt.time(moment.hour, moment.minute)


def _words(mark: SheetMark, zone: ZoneInfo) -> str:
    remark = f" ({mark.remark})" if mark.remark else ""
    return f"{mark.get_step_display()} {mark.at.astimezone(zone):%H:%M}{remark}"
