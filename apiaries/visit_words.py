"""What an inspector may note of one colony: short codes of our own, each with its words.

An empty code means "not looked at". `other` asks for words beside it. A code is stored; its words are said where shown.
"""

from dataclasses import dataclass

from apiaries.language import mark, mark_as, say, say_as

OTHER = "other"


@dataclass(frozen=True, slots=True)
class Aspect:
    """One thing to look at in a colony: the column of a finding, its heading, and what it may be."""

    name: str
    heading: str
    codes: dict[str, str]
    usual: tuple[str, ...]
    """The codes that say nothing is out of the ordinary."""

    @property
    def heading_words(self) -> str:
        """The heading, in the reader's language."""
        return say(self.heading)


ASPECTS: tuple[Aspect, ...] = (
    Aspect(
        "strength",
        mark("Strength"),
        {
            "strong": mark_as("finding", "strong"),
            "medium": mark_as("finding", "medium"),
            "weak": mark_as("finding", "weak"),
        },
        ("strong", "medium"),
    ),
    Aspect(
        "adult_bees",
        mark("Adult bees"),
        {
            "usual": mark_as("finding", "as usual"),
            "wings": mark_as("finding", "crippled wings"),
            "crawling": mark_as("finding", "crawling or trembling"),
            "dead": mark_as("finding", "many dead"),
            OTHER: mark_as("finding", "something else"),
        },
        ("usual",),
    ),
    Aspect(
        "brood_look",
        mark("Brood"),
        {
            "even": mark_as("finding", "even"),
            "none": mark_as("finding", "no brood"),
            "patchy": mark_as("finding", "patchy"),
            "cappings": mark_as("finding", "sunken or holed cappings"),
            "larvae": mark_as("finding", "discoloured larvae"),
            OTHER: mark_as("finding", "something else"),
        },
        ("even",),
    ),
    Aspect(
        "comb",
        mark("Comb"),
        {
            "sound": mark_as("finding", "sound"),
            "old": mark_as("finding", "old or black"),
            "moth": mark_as("finding", "wax moth"),
            OTHER: mark_as("finding", "something else"),
        },
        ("sound",),
    ),
    Aspect(
        "stores",
        mark("Stores"),
        {
            "enough": mark_as("finding", "enough"),
            "short": mark_as("finding", "short"),
            "none": mark_as("finding", "no stores"),
        },
        ("enough",),
    ),
    Aspect(
        "debris",
        mark("Debris on the floor"),
        {
            "little": mark_as("finding", "little or none"),
            "mites": mark_as("finding", "mites seen"),
            "larvae": mark_as("finding", "larvae or beetles"),
            OTHER: mark_as("finding", "something else"),
        },
        ("little",),
    ),
    Aspect(
        "equipment",
        mark("Equipment"),
        {
            "sound": mark_as("finding", "sound"),
            "worn": mark_as("finding", "worn or damaged"),
            "fixed": mark_as("finding", "combs cannot be lifted out"),
            OTHER: mark_as("finding", "something else"),
        },
        ("sound",),
    ),
)
BY_NAME = {aspect.name: aspect for aspect in ASPECTS}


def code_words(aspect: str, code: str) -> str:
    """The words of a code; a code that left the table stands for itself."""
    return say_as("finding", BY_NAME[aspect].codes.get(code, code)) if code else ""
