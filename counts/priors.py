"""What other counts of the same region and month say about a colony before it is counted. Pure."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
import numpy.typing as npt

from counts._intervals import Prior
from counts.constants import DEFAULTS, Constants


class NoPrior(StrEnum):
    """Why a count stands alone."""

    FEW_SAMPLES = "few_samples"
    NOT_A_COUNT = "not_a_count"


def region_month_prior(
    mites: npt.ArrayLike, exposure: npt.ArrayLike, c2: npt.ArrayLike, constants: Constants = DEFAULTS
) -> Prior | NoPrior:
    """Mean and shape of the rates of a region and month, by moments, from jars of one kind (not boards too).

    The shape is drawn a little towards the usual spread between colonies. Without any mite the mean is that
    of half a mite in all. The caller leaves out the count that the prior is for.
    """
    m, x, own = (
        np.asarray(one, dtype=np.float64).ravel() for one in np.broadcast_arrays(mites, exposure, c2)
    )
    if m.size < constants.prior_samples_min.value:
        return NoPrior.FEW_SAMPLES
    counts = np.isfinite(m) & np.isfinite(x) & np.isfinite(own) & (m >= 0) & (x > 0) & (own >= 0)
    if not counts.all():
        return NoPrior.NOT_A_COUNT
    rates = m / x
    mean = max(float(rates.mean()), 0.5 / float(x.sum()))
    by_chance, jar = mean * float((1.0 / x).mean()), float(own.mean())
    seen = ((float(rates.var(ddof=1)) - by_chance) / mean**2 - jar) / (1.0 + jar)
    weight, more = constants.between_weight.value, m.size - 1
    drawn = (more * seen + weight * constants.between_c2.value) / (more + weight)
    return Prior(mean, 1.0 / min(max(drawn, constants.prior_c2_min.value), constants.prior_c2_max.value))
