"""What must hold for every yard, beyond the properties of single counts."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from counts.estimate import chance_above, rate_interval, yard_mean

calm = settings(deadline=None, derandomize=True, max_examples=100)
jars = st.lists(st.integers(0, 200), min_size=2, max_size=10)


@calm
@given(jars, st.integers(0, 9), st.integers(1, 50), st.integers(0, 30))
def test_more_mites_in_a_jar_never_lower_the_lower_limit(mites, place, more, unsampled):
    # The upper limit may fall: raising a low colony makes the yard more even.
    raised, colonies = list(mites), len(mites) + unsampled
    raised[place % len(mites)] += more
    low, higher = (yard_mean(one, [300] * len(one), colonies).low for one in (mites, raised))

    assert higher > low


@calm
@given(jars, st.integers(1, 30), st.floats(0.001, 0.2), st.floats(0.001, 0.2))
def test_chance_of_a_yard_falls_with_the_level(mites, unsampled, one, other):
    yard = yard_mean(mites, [300] * len(mites), len(mites) + unsampled)
    low, high = sorted((one, other))

    assert 0 <= yard.chance_above(high) <= yard.chance_above(low) <= 1


@calm
@given(st.integers(1, 500), st.integers(50, 1000), st.floats(0, 0.6))
def test_limits_and_chances_say_the_same(mites, bees, c2):
    low, high = rate_interval(mites, bees, c2)
    chances = chance_above(mites, bees, c2, np.array([low, high, 0.0, 1e6]))

    assert np.allclose(chances, [0.975, 0.025, 1.0, 0.0], atol=1e-3)
