"""Whether what was measured is as fast as promised, and the table of it."""

from dataclasses import dataclass, field
from math import inf
from statistics import median

BARS = {"yard page": 5.0, "saving a count": 6.0, "region page, warm": 5.0, "mix": 10.0}
"""How many times slower than the yardstick at most."""
P99_MS = 1000.0
MEMORY_GROWTH, MEMORY_MINUTES = 0.05, 30.0
"""A worker may grow by so much; judged only where the load lasted so many minutes, told always."""
ANEW = "yard page, drawn anew"
"""Told without a bar: the first look after a change or at another day, when nothing of the page is kept."""
PLAIN = "saving, by nothing but Django"
"""Told without a bar: a form, a session and a row by the ORM, and nothing of what the site does beside."""
NAMES = ("yardstick", "yard page", ANEW, PLAIN, *(name for name in BARS if name != "yard page"))


@dataclass
class Found:
    """What was measured on one database."""

    where: str
    rates: dict[str, list[float]] = field(default_factory=dict)
    """Answers a second by what was asked for, one of each round."""
    cpu_ms: dict[str, list[float]] = field(default_factory=dict)
    """Milliseconds of a core that the web workers took for an answer."""
    pages: dict[str, dict[str, float]] = field(default_factory=dict)
    """By kind of request of the mix, at 70 % of what it bears."""
    steady_rate: float = 0.0
    p99_ms: float = 0.0
    minutes: float = 0.0
    memory: list[list[float]] = field(default_factory=list)
    """Resident MB of each worker, from time to time while the load was steady."""
    errors: list[str] = field(default_factory=list)

    def ratios(self, name: str) -> list[float]:
        """How many times slower than the yardstick, round by round."""
        return [
            u / rate if rate else inf
            for u, rate in zip(self.rates["yardstick"], self.rates[name], strict=True)
        ]

    def cpu_ratio(self, name: str) -> float:
        """The same of what the workers computed, which other work on the machine disturbs less."""
        return median(self.cpu_ms[name]) / median(self.cpu_ms["yardstick"])

    @property
    def growth(self) -> float:
        """By how much the workers together are larger in the last fifth than in the second one."""
        sums = [sum(one) for one in self.memory]
        fifth = len(sums) // 5
        if not fifth:
            return 0.0
        return median(sums[-fifth:]) / median(sums[fifth : 2 * fifth]) - 1


def bars(found: Found) -> dict[str, bool]:
    """What was promised, and whether it held."""
    held = {
        f"{name} ≥ U/{most:g}": median(found.ratios(name)) <= most
        for name, most in BARS.items()
        if name in found.rates
    }
    held["no error"] = not found.errors
    if found.minutes:
        held[f"p99 < {P99_MS:g} ms at 70 % of saturation"] = found.p99_ms < P99_MS
    if found.minutes >= MEMORY_MINUTES:
        held[f"memory grows by < {MEMORY_GROWTH:.0%}"] = found.growth < MEMORY_GROWTH
    return held


def summary(found: Found) -> list[str]:
    """The tables of one database."""
    lines = [
        f"## On {found.where}",
        "",
        "| what | answers/s | U/x, median (range) | bar | core ms | core ms / U's |",
    ]
    lines.append("|---|---|---|---|---|---|")
    for name in (one for one in NAMES if one in found.rates):
        ratios = found.ratios(name)
        bar = f"≤ {BARS[name]:g}" if name in BARS else ""
        rates = f"{median(found.rates[name]):,.1f} ({min(found.rates[name]):,.1f} to {max(found.rates[name]):,.1f})"
        told = f"{median(ratios):.1f} ({min(ratios):.1f} to {max(ratios):.1f})"
        told = "1 (this is U)" if name == "yardstick" else told
        cores = f"{median(found.cpu_ms[name]):.2f} | {found.cpu_ratio(name):.1f}"
        lines.append(f"| {name} | {rates} | {told} | {bar} | {cores} |")
    if found.minutes:
        lines += [
            "",
            f"Mix at 70 %: {found.steady_rate:,.1f} answers/s for {found.minutes:g} min, p99 {found.p99_ms:,.0f} ms.",
        ]
        if found.memory:
            ends = " to ".join(f"{sum(one) / len(one):,.1f}" for one in (found.memory[0], found.memory[-1]))
            lines.append(f"Resident memory of a worker: {ends} MB; growth {found.growth:+.1%}.")
        lines += ["", "| of the mix | answers | p50 ms | p99 ms |", "|---|---|---|---|"]
        for name, one in sorted(found.pages.items()):
            lines.append(f"| {name} | {one['requests']:,} | {one['p50_ms']:,.0f} | {one['p99_ms']:,.0f} |")
    return [*lines, *(f"ERROR: {one}" for one in found.errors[:20])]
