"""How long plans of a treatment day take to make, and how far they are from what no plan can beat. Say: make bench

60 hives and 4 heaters, one and two people. First the sets of times that the tests use, then days drawn with a fixed
seed from all that is told of heaters, where hands and heaters are often short at once. Seconds are the processor's,
as other work on the machine only adds to those of the clock. Ends with 1 if a bar is missed.
"""

import random
import sys
import time

from tests.bench.days import SETS, TIGHT
from tests.treatments.brute_force import Times
from treatments import _day_search
from treatments.day_plan import Aim, HandTimes, HeaterTimes, HiveWork, day_plan

HIVES, HEATERS, DRAWN, SEED = 60, 4, 150, 20260503
SECONDS, RATIO, RATIO_DRAWN = 0.5, 1.05, 1.15


def planned(times, people, aim=Aim.SHORTEST):
    """A plan made anew, and the seconds of the processor that it took."""
    _day_search.shortest.cache_clear()
    _day_search.calmest.cache_clear()
    before = time.process_time()
    plan = day_plan(
        [HiveWork()] * HIVES,
        HeaterTimes(first=times.first, following=times.following, cool=times.cool),
        heaters=HEATERS,
        people=people,
        hands=HandTimes(
            carry=times.carry,
            set_up=times.set_up,
            draw=times.draw,
            open=times.open,
            wait=times.wait,
            sealed=times.sealed,
        ),
        aim=aim,
    )
    return plan, time.process_time() - before


def drawn_times(chance):
    """Times of a day as they might be told, in minutes."""
    following = chance.choice([1.5, 2, 2.5, 3, 4, 5, 7, 9, 10])
    return Times(
        first=following + chance.choice([0, 0.5, 1, 2, 4]),
        following=following,
        cool=chance.choice([0, 1, 1.5, 2, 3]),
        carry=chance.choice([0, 0.5, 1, 1.5]),
        set_up=chance.choice([0.5, 1, 1.5, 2, 3]),
        draw=chance.choice([0.5, 0.75, 1, 1.5]),
        open=chance.choice([0.5, 1, 1.5]),
        wait=chance.choice([0, 1, 2, 3, 5]),
        sealed=chance.choice([10, 15]),
    )


def line(name, people, aim, plan, took):
    """What one plan looks like."""
    ratio = plan.finish / plan.lower_bound
    sys.stdout.write(
        f"{name:<12}{people:>2}  {aim:<13}{plan.finish:>7.0f}{plan.lower_bound:>7.0f}{ratio:>8.4f}"
        f"{plan.shut_longest:>7.0f}{took:>8.3f}\n"
    )
    return ratio


def main() -> int:
    """Print finish, bound, ratio, longest wait for opening and seconds."""
    sys.stdout.write(
        "60 hives, 4 heaters: people, aim, minutes, bound, ratio, longest shut too long, seconds\n"
    )
    ratios, seconds = [], []
    for name, times in (SETS | TIGHT).items():
        for people in (1, 2):
            for aim in Aim:
                plan, took = planned(times, people, aim)
                ratio = line(name, people, aim, plan, took)
                seconds.append(took)
                if aim is Aim.SHORTEST and name in SETS:
                    ratios.append(ratio)
    chance = random.Random(SEED)
    drawn = []
    for _ in range(DRAWN):
        times = drawn_times(chance)
        for people in (1, 2):
            plan, took = planned(times, people)
            drawn.append(plan.finish / plan.lower_bound)
            seconds.append(took)
    close = sum(ratio <= RATIO for ratio in drawn)
    sys.stdout.write(f"the sets of the tests: at most {max(ratios):.4f} of the bound. Bar: {RATIO}\n")
    sys.stdout.write(
        f"{len(drawn)} days drawn: {close} within 5 %, mean {sum(drawn) / len(drawn):.4f}, "
        f"worst {max(drawn):.4f}. Bar: {RATIO_DRAWN}\n"
    )
    sys.stdout.write(f"slowest plan {max(seconds):.3f} s. Bar: under {SECONDS} s\n")
    return 0 if max(ratios) <= RATIO and max(drawn) <= RATIO_DRAWN and max(seconds) < SECONDS else 1


if __name__ == "__main__":
    sys.exit(main())
