"""Which boxes and questions of pages and of the interface take the key of a thing, written by hand, and of whose.

An address, its word in the table of addresses, the box, and the kind of thing. What is found in the pages and is not
here fails, and what is here and not found.
"""

from collections.abc import Iterator

BOXES = """
apiaries:colony-move         | colony              | to_yard  | yard
apiaries:colony-split        | colony              | to_yard  | yard
apiaries:colony-unite        | colony              | into     | colony
apiaries:hive-labels         | yard                | colonies | colony
apiaries:invitation-add      |                     | regions  | region
apiaries:member-change       | charlies membership | regions  | region
apiaries:yard-add            |                     | region   | region
apiaries:yard-edit           | yard                | region   | region
counts:import-answers        | sheet               | yard_0   | yard
counts:sample-list           |                     | colony   | colony
counts:sample-list           |                     | yard     | yard
counts:sample-list           |                     | region   | region
reports:region-month         |                     | region   | region
reports:treatment-results    |                     | region   | region
reports:visit-list           |                     | region   | region
reports:visit-list           |                     | yards    | yard
treatments:day-plan          | yard and way        | colonies | colony
treatments:medicine-record   |                     | keeper   | person
treatments:medicine-record   |                     | yard     | yard
treatments:round-give        | round to give       | colonies | colony
treatments:round-plan        | round with a sheet  | colonies | colony
treatments:round-plan        | round with a sheet  | device   | device
treatments:treatment-add     | yard                | colonies | colony
treatments:treatment-list    |                     | yard     | yard
treatments:treatment-list    |                     | region   | region
"""
NO_KEYS = {"brood_boxes", "quiet_days", "months", "year", "season", "people"}
"""Boxes whose choices are numbers of something else."""
FORMS = {"treatments:treatment-add": "?way=oxalic_trickle_eu"}
"""Where a way of treating stands in the address of the form."""

QUESTIONS = """
counts:sample-list             | yard=yard colony=colony region=region
treatments:treatment-list      | yard=yard region=region
treatments:medicine-record     | keeper=person yard=yard
treatments:medicine-record-csv | keeper=person yard=yard
treatments:medicine-record-chain | keeper=person yard=yard
treatments:medicine-record-pdf | keeper=person yard=yard
reports:counts-csv             | yard=yard colony=colony region=region
reports:treatments-csv         | yard=yard region=region
reports:today                  | yard=yard
reports:region-month           | region=region
reports:region-chart           | region=region
reports:region-map             | region=region
reports:treatment-results      | region=region
reports:visit-list             | region=region
api:yard-list                  | region=region
api:colony-list                | yard=yard
api:count-list                 | yard=yard colony=colony
api:treatment-list             | yard=yard colony=colony
"""
"""What an address can be asked about by a key; of the interface it is compared with what its filters take."""

MAY_NAME = {
    "alice": {"yard": "home", "colony": "home", "region": "club", "person": "alice", "device": "alice"},
    "bob": {"yard": "home", "colony": "home", "region": "club", "person": "alice bob"},
    "charlie": {"yard": "charlie", "colony": "charlie", "region": "club", "person": "charlie"},
    "dana": {"yard": "charlie", "colony": "charlie", "region": "club", "person": "charlie dana"},
    "ines": {"yard": "home", "colony": "home", "region": "club", "person": "alice ines"},
    "ivan": {"yard": "charlie", "colony": "charlie", "region": "club", "person": "charlie ivan"},
    "adam": {"region": "club", "person": "adam"},
    "zoe": {"yard": "far", "colony": "far", "region": "far", "person": "zoe"},
}
"""Whose things each person may name at most: Charlie shares his counts with Dana, Alice does not."""


def boxes() -> list[tuple[str, str, str, str]]:
    """Address, its word, box, kind."""
    return [tuple(part.strip() for part in line.split("|")) for line in BOXES.strip().splitlines()]  # type: ignore[misc]


def questions() -> Iterator[tuple[str, str, str]]:
    """Address, parameter, kind."""
    for line in QUESTIONS.strip().splitlines():
        name, asked = (part.strip() for part in line.split("|"))
        for one in asked.split():
            parameter, kind = one.split("=")
            yield name, parameter, kind
