"""Reference data of visits: rules for how many colonies to open, diseases to look for and whom to tell."""

from dataclasses import dataclass
from functools import cache

from apiaries.language import mark, mark_as, say, say_as
from apiaries.models import Club
from apiaries.reference import rows_of_table
from apiaries.visit_rules import ALL, OWN, OpenRule, every_colony

NOTIFIABLE, REPORTABLE, UNKNOWN = "notifiable", "reportable", "unknown"
DUTY_WORDS = {
    NOTIFIABLE: mark_as("duty", "notifiable"),
    REPORTABLE: mark_as("duty", "to be reported once for each yard"),
    UNKNOWN: mark_as("duty", "not known here whether it is notifiable"),
}
LOOKED_FOR = {
    "american_foulbrood": mark("American foulbrood"),
    "european_foulbrood": mark("European foulbrood"),
    "small_hive_beetle": mark("Small hive beetle"),
    "tropilaelaps": mark("Tropilaelaps mites"),
}
"""What may be suspected wherever no list of the country is kept; whether it is notifiable is not said then."""
OTHER_DISEASE = "other"
OTHER_WORDS = mark("Another disease")
YOUR_AUTHORITY = mark("the authority of your country")
EVERY = mark("Every colony")
OWN_NAME = mark("The club's own: {share} in 100, at least {least}")


@dataclass(frozen=True, slots=True)
class Disease:
    """One that may be suspected, and what the country's list says of it."""

    key: str
    name: str
    duty: str
    tell: str
    tell_mark: str = ""
    source: str = ""
    note: str = ""

    @property
    def duty_words(self) -> str:
        return say_as("duty", DUTY_WORDS[self.duty])

    @property
    def label(self) -> str:
        """As it stands in a list to choose from."""
        return f"{self.name} ({self.duty_words})"


@cache
def written_rules() -> tuple[OpenRule, ...]:
    """The published rules, in the order of the table."""
    return tuple(
        OpenRule(
            row["key"], row["name"], int(row["share_percent"]), int(row["at_least"]), int(row["all_below"])
        )
        for row in rows_of_table("visit_rules.csv")
    )


def rule_of(club: Club) -> OpenRule:
    """The rule the club chose; every colony while it chose none, or one that has left the table."""
    if club.visit_rule == OWN:
        name = say(OWN_NAME, share=club.visit_share_percent, least=club.visit_at_least)
        return OpenRule(OWN, name, club.visit_share_percent, club.visit_at_least, club.visit_at_least)
    return next((one for one in written_rules() if one.key == club.visit_rule), every_colony(say(EVERY)))


def rule_name(key: str) -> str:
    """The name of a rule by the key that a visit keeps; the numbers of a club's own one may have changed since."""
    if key == ALL:
        return say(EVERY)
    if key == OWN:
        return say("The club's own rule")
    return next((say(one.name) for one in written_rules() if one.key == key), key)


def rule_source(key: str) -> str:
    """Where a rule was published; empty for a club's own and for every colony."""
    return next((row["source"] for row in rows_of_table("visit_rules.csv") if row["key"] == key), "")


def diseases(club: Club) -> list[Disease]:
    """Those of the list of the club's country, else what one looks for anyway with nothing said of duties."""
    listed = [row for row in rows_of_table("notifiable.csv") if row["jurisdiction"] == club.jurisdiction]
    found = [
        Disease(
            row["key"],
            say(row["name"]),
            row["duty"],
            say(row["tell"]),
            row["tell_mark"],
            row["source"],
            row["note"],
        )
        for row in listed
    ]
    if not found:
        found = [Disease(key, say(name), UNKNOWN, say(YOUR_AUTHORITY)) for key, name in LOOKED_FOR.items()]
    return [*found, Disease(OTHER_DISEASE, say(OTHER_WORDS), UNKNOWN, say(YOUR_AUTHORITY))]


def disease_of(club: Club, key: str) -> Disease:
    """One of them by its key; a key that left the list is told with no duty."""
    name = say(LOOKED_FOR[key]) if key in LOOKED_FOR else key
    known = {one.key: one for one in diseases(club)}
    return known.get(key) or Disease(key, name, UNKNOWN, say(YOUR_AUTHORITY))


def has_list(club: Club) -> bool:
    """Whether a list of notifiable diseases of the club's country is kept here."""
    return any(row["jurisdiction"] == club.jurisdiction for row in rows_of_table("notifiable.csv"))
