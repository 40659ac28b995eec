"""Days on which the planner is tried: whole minutes, made up around common practice (no source)."""

from tests.treatments.brute_force import Times

SETS = {
    "usual": Times(first=10, following=7, cool=2, carry=1, set_up=2, draw=1, open=1, wait=5, sealed=15),
    "slow": Times(first=14, following=11, cool=3, carry=1, set_up=3, draw=1, open=1, wait=5, sealed=15),
    "quick": Times(first=4, following=3, cool=2, carry=1, set_up=1, draw=1, open=1, wait=2, sealed=10),
    "short wait": Times(first=5, following=4, cool=2, carry=1, set_up=2, draw=1, open=1, wait=2, sealed=15),
    "far apart": Times(first=10, following=7, cool=2, carry=3, set_up=2, draw=1, open=2, wait=5, sealed=15),
    "hands full": Times(first=6, following=5, cool=2, carry=1, set_up=4, draw=2, open=2, wait=3, sealed=10),
    "all alike": Times(first=8, following=8, cool=2, carry=1, set_up=2, draw=1, open=1, wait=5, sealed=10),
}
"""Each with 60 hives and 4 heaters."""
TIGHT = {
    "no wait": Times(first=5, following=4, cool=1, carry=1, set_up=2, draw=1, open=1, wait=0, sealed=15),
    "one busy": Times(first=9, following=7, cool=3, carry=1, set_up=2, draw=1.5, open=0.5, wait=5, sealed=15),
}
"""Hands and heaters are short at once, and the bound, which takes each by itself, cannot be reached."""
