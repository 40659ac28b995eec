"""What was counted, the published levels it is compared with, and what counts are asked for."""

from counts.models.asked import CountLeftOut, CountWeek
from counts.models.imports import (
    ImportBatch,
    ImportedCount,
    ImportRow,
    ImportState,
    ImportWork,
    KnownHeading,
    RowStatus,
)
from counts.models.restored import SampleRestored
from counts.models.sampled import (
    BEES_BY_WORDS,
    JAR_METHODS,
    METHOD_WORDS,
    ActionLevel,
    DayAfterInUtc,
    EstimateBasis,
    MiteSample,
    MiteSampleQuerySet,
)

__all__ = [
    "BEES_BY_WORDS",
    "JAR_METHODS",
    "METHOD_WORDS",
    "ActionLevel",
    "CountLeftOut",
    "CountWeek",
    "DayAfterInUtc",
    "EstimateBasis",
    "ImportBatch",
    "ImportRow",
    "ImportState",
    "ImportWork",
    "ImportedCount",
    "KnownHeading",
    "MiteSample",
    "MiteSampleQuerySet",
    "RowStatus",
    "SampleRestored",
]
