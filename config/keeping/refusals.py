"""Why a backup or a restore is not made, in a sentence for a console; none holds a secret or a row."""

REFUSED = 1
"""Status: nothing was begun and nothing is changed."""
BROKE_OFF = 3
"""Status: it was begun and is not whole. A backup's folder is removed again; a database must be dropped."""


class Refused(Exception):
    """It was not begun: the text says why and what to mend."""

    status = REFUSED


class BrokeOff(Refused):
    """It was begun and did not come to a good end."""

    status = BROKE_OFF
