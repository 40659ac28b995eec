"""How many colonies an inspector opens in a yard, by a written rule. Pure.

Rules differ by country and by service; a club chooses one, or sets its own. All have one form: below some number of
colonies all are opened, from there on a share of them, but never fewer than a floor.
"""

from dataclasses import dataclass

OWN = "own"
ALL = "all"


@dataclass(frozen=True, slots=True)
class OpenRule:
    """One rule. Shares are whole percent; `all_below` is the first number of colonies of which not all are opened."""

    key: str
    name: str
    share_percent: int
    at_least: int
    all_below: int

    def __post_init__(self) -> None:
        """Errors: ValueError for a share that is none, or a floor or number below zero."""
        if not 1 <= self.share_percent <= 100:
            raise ValueError("A share is a whole number of percent from 1 to 100.")
        if self.at_least < 0 or self.all_below < 0:
            raise ValueError("A number of colonies is not below 0.")


def colonies_to_open(rule: OpenRule, present: int) -> int:
    """Colonies to open of so many that stand in the yard; parts of a colony are rounded up, never more than all.

    Rounding up is our reading of "at least 5 percent" and of "half". Errors: ValueError for fewer than 0 colonies.
    """
    if present < 0:
        raise ValueError("A number of colonies is not below 0.")
    if present < rule.all_below:
        return present
    share = -(-rule.share_percent * present // 100)
    return min(present, max(rule.at_least, share))


def every_colony(name: str) -> OpenRule:
    """The rule that opens all: what is taken while a club has chosen none (our choice)."""
    return OpenRule(ALL, name, share_percent=100, at_least=0, all_below=0)
