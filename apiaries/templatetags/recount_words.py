"""Figures, ranges, days, roles and addresses as the pages write them. Formatting only: no sums, no look-ups.

    {{ estimate.rate|one_decimal }}              3.0
    {{ estimate.rate|per_100 }}                  3.0 per 100 bees
    {{ estimate.low|rate_range:estimate.high }}  1.3 to 6.7
    {{ count.sampled_on|day }}                   12 Aug 2026
    {{ recount.ideal|weekday_day }}              Sat 22 Aug 2026
    {{ drop|share }}                             83 %
    {{ change|signed }}                          −1.2
    {{ membership.role|role_name }}              Coordinator
    {% bar_scale estimate.high 2 as top %} {{ estimate.low|bar_x:top }}

A value that is missing becomes an empty string, never 0: the page says in words that there is none.
"""

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from django import template

from apiaries.addresses import address_of
from apiaries.language import day_words, figure, month_year_words, say, weekday_day_words
from apiaries.models import Person
from apiaries.permissions import role_name, role_within
from apiaries.zones import zone_of

register = template.Library()

MINUS = "\N{MINUS SIGN}"
BAR = 1000  # a range bar is this long, whatever it measures
TOPS = (5, 10, 20, 30, 50, 100, 200, 500, 1000)  # where a scale may end


def _number(value: object) -> Decimal | None:
    """The value as a decimal; None when it is missing or not a finite number."""
    if value is None or value == "" or isinstance(value, bool):
        return None
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def _text(number: Decimal) -> str:
    return figure(str(number).replace("-", MINUS) if number else str(abs(number)))


@register.filter
def one_decimal(value: object) -> str:
    """A figure to one decimal, halves up: 3.0."""
    number = _number(value)
    return "" if number is None else _text(number.quantize(Decimal("0.1"), ROUND_HALF_UP))


@register.filter
def plain(value: object) -> str:
    """A figure as it was published, without trailing zeros: 2, 2.5, 10."""
    number = _number(value)
    return "" if number is None else _text(Decimal(f"{number.normalize():f}"))


@register.filter
def signed(value: object) -> str:
    """A change to one decimal with its sign: +0.4, −1.2, 0.0."""
    text = one_decimal(value)
    return text if not text or text[0] == MINUS or not text.strip("0.,") else f"+{text}"


@register.filter
def per_100(value: object) -> str:
    """A rate of a wash or a roll: 3.0 per 100 bees."""
    text = one_decimal(value)
    return say("{rate} per 100 bees", rate=text) if text else ""


@register.filter
def per_day(value: object) -> str:
    """The drop on a board: 4.0 per day. Never a percentage."""
    text = one_decimal(value)
    return say("{rate} per day", rate=text) if text else ""


@register.filter
def rate_range(low: object, high: object) -> str:
    """The two ends of a range: 1.3 to 6.7. Empty unless both are there."""
    ends = one_decimal(low), one_decimal(high)
    return say("{low} to {high}", low=ends[0], high=ends[1]) if all(ends) else ""


@register.filter
def share(value: object) -> str:
    """A share between 0 and 1 as whole per cent: 83 %. A rise keeps its sign."""
    number = _number(value)
    if number is None:
        return ""
    return f"{_text((number * 100).quantize(Decimal(1), ROUND_HALF_UP))} %"


@register.filter
def day(value: date | None) -> str:
    """A calendar day that nobody can misread: 12 Aug 2026."""
    return day_words(value) if isinstance(value, date) else ""


@register.filter
def on_clock_of(value: datetime | None, person: Person) -> datetime | None:
    """A moment on this person's own clock: its day may be another one than in UTC."""
    return value.astimezone(zone_of(person.time_zone)) if isinstance(value, datetime) else None


@register.filter
def weekday_day(value: date | None) -> str:
    """A day to plan for: Sat 22 Aug 2026."""
    return weekday_day_words(value) if isinstance(value, date) else ""


@register.filter
def clock(value: datetime | None) -> str:
    """The time of day of a moment, on the clock that the moment itself is on: 09:30."""
    return f"{value:%H:%M}" if isinstance(value, datetime) else ""


@register.filter
def month_year(value: date | None) -> str:
    """A month of figures: Aug 2026."""
    return month_year_words(value) if isinstance(value, date) else ""


@register.filter
def day_and_time(value: datetime | None) -> str:
    """A moment in the time zone it carries: 12 Aug 2026, 07:00."""
    return f"{day(value)}, {value:%H:%M}" if isinstance(value, datetime) else ""


@register.filter(name="role_name")
def role_name_of(value: str) -> str:
    """A role as it stands in a table or begins a line: Coordinator."""
    return role_name(value)


@register.filter(name="role_within")
def role_within_of(value: str) -> str:
    """A role as it stands within a sentence: coordinator."""
    return role_within(value)


@register.simple_tag
def address(name: str, key: int) -> str:
    """As `url`, in the rows of a table: {% address "counts:sample-detail" row.sample.pk %}."""
    return address_of(name, key)


@register.simple_tag
def bar_scale(high: object, level: object = None) -> int:
    """Where the scale of a range bar ends: the first round number that leaves both ends some air."""
    most = max(_number(high) or Decimal(0), _number(level) or Decimal(0))
    return next((top for top in TOPS if most * Decimal("1.1") <= top), TOPS[-1])


@register.filter
def bar_x(value: object, scale_max: object) -> int | str:
    """Where a value stands on a range bar, 0 to 1000; beyond the ends it stays at the end."""
    number, top = _number(value), _number(scale_max)
    if number is None or not top or top < 0:
        return ""
    return max(0, min(BAR, int((number / top * BAR).quantize(Decimal(1), ROUND_HALF_UP))))


@register.filter
def along(x: object) -> str:
    """A position on a range bar (0 to 1000) as SVG wants it: 30.5%."""
    number = _number(x)
    return "0%" if number is None else f"{number / (BAR // 100):f}%"
