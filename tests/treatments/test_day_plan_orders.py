"""Every order of steps of somewhat larger days: too slow to be repeated for each small change of the planner."""

import pytest

from tests.treatments.brute_force import shortest_day
from tests.treatments.test_day_plan import WORKED, planned
from treatments.day_plan import Aim


@pytest.mark.slow
@pytest.mark.parametrize(("number", "heaters", "people"), [(5, 3, 1), (4, 3, 2)])
def test_no_order_of_steps_is_shorter_with_three_heaters(number, heaters, people):
    loads = [1] * number

    assert planned(loads, WORKED, heaters, people, aim=Aim.SHORTEST).finish == shortest_day(
        loads, WORKED, heaters, people
    )
