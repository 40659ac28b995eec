"""Do the tests see it when a sum is wrong? Say: make mutate

Changes the pure modules in small ways, one at a time and in memory only, and runs the module's own tests on each
change. A change that no test minds survives and is named. Which changes are tried is drawn with a fixed seed;
MUTANTS says how many for each module (0: all). Ends with 1 if fewer than 90 % of those tried were killed.
"""

import importlib.abc
import importlib.util
import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

import pytest

from tests.mutation.mutants import mutants_of

BASE = Path(__file__).parents[2]
SEED = 20260503
PATIENCE = 60
"""Seconds; a change that makes the tests run longer is found too."""
EDGES = "tests/counts/test_edges.py"
ESTIMATES = (EDGES, "tests/counts/test_estimate.py", "tests/counts/test_estimate_properties.py")
YARDS = (EDGES, "tests/counts/test_yards.py", "tests/counts/test_yard_properties.py")
DROPS = (
    "tests/treatments/test_edges.py",
    "tests/treatments/test_outcome.py",
    "tests/treatments/test_outcome_properties.py",
    "tests/published",
)
RECOUNTS = ("tests/treatments/test_recount_rules.py",)
PRESSURE = (
    "tests/reports/test_edges.py",
    "tests/reports/test_pressure.py",
    "tests/reports/test_pressure_properties.py",
)
MODULES = {
    "counts/_intervals.py": ESTIMATES,
    "counts/_yards.py": YARDS,
    "counts/estimate.py": ESTIMATES,
    "counts/samples.py": (EDGES, "tests/counts/test_samples.py"),
    "counts/action_levels.py": (
        EDGES,
        "tests/counts/test_action_levels.py",
        "tests/counts/test_sentences.py",
    ),
    "treatments/_ratio.py": DROPS,
    "treatments/_verdicts.py": DROPS,
    "treatments/outcome.py": DROPS,
    "treatments/recount_rules.py": RECOUNTS,
    "treatments/status.py": ("tests/treatments/test_edges.py", "tests/treatments/test_status.py"),
    "reports/_disclosure.py": PRESSURE,
    "reports/pressure.py": PRESSURE,
}
AGGREGATED = "tests/published/test_aggregated_counts.py"
OUTLOOK = (
    "tests/treatments/test_outlook.py",
    "tests/treatments/test_outlook_properties.py",
    "tests/published/test_growth.py",
)
PLAN_EDGES = "tests/counts/test_plan_edges.py"
DAY_PLAN = ("tests/treatments/test_day_plan.py",)
ON_REQUEST = {
    "counts/_decisions.py": (PLAN_EDGES, "tests/counts/test_decisions.py"),
    "counts/_settle.py": (PLAN_EDGES, "tests/counts/test_settle.py"),
    "counts/data_checks.py": (PLAN_EDGES, "tests/counts/test_data_checks.py", AGGREGATED),
    "counts/dispersion.py": ("tests/counts/test_dispersion.py", AGGREGATED),
    "counts/priors.py": ("tests/counts/test_priors.py", AGGREGATED),
    "counts/sampling_plan.py": (PLAN_EDGES, "tests/counts/test_sampling_plan.py", AGGREGATED),
    "reports/trend.py": ("tests/reports/test_trend.py",),
    "treatments/_day_replay.py": DAY_PLAN,
    "treatments/_day_search.py": DAY_PLAN,
    "treatments/_day_state.py": DAY_PLAN,
    "treatments/_day_work.py": DAY_PLAN,
    "treatments/_stages.py": OUTLOOK,
    "treatments/battery.py": ("tests/treatments/test_battery.py",),
    "treatments/day_plan.py": DAY_PLAN,
    "treatments/outlook.py": OUTLOOK,
    "treatments/possible.py": ("tests/treatments/test_possible.py",),
}
"""Tried when named: make mutate ARGS=counts/priors.py"""
PYTEST = (
    *(
        "-x",
        "-q",
        "-W",
        "error",
        "-c",
        os.devnull,
        "--rootdir",
        str(BASE),
        "--import-mode=importlib",
        "--noconftest",
    ),
    *("-p", "no:django", "-p", "no:cacheprovider", "--hypothesis-seed=1"),
)
"""The sums know no framework, so their tests run without one: that takes a tenth of the time."""
WARM = ("numpy", "scipy.special", "scipy.stats", "scipy.optimize", "statsmodels.stats.proportion")


class Changed(importlib.abc.SourceLoader, importlib.abc.MetaPathFinder):
    """Gives one module from a changed source."""

    def __init__(self, path, source):
        self.path, self.source = str(BASE / path), source
        self.name = path.removesuffix(".py").replace("/", ".")

    def find_spec(self, name, path=None, target=None):
        return (
            importlib.util.spec_from_file_location(name, self.path, loader=self)
            if name == self.name
            else None
        )

    def get_filename(self, name):
        return self.path

    def get_data(self, path):
        return self.source.encode()

    def path_stats(self, path):
        raise OSError


def killed(path, source, tests):
    """Whether the tests mind. They run in a child, with nothing of the sums imported before."""
    child = os.fork()
    if not child:
        signal.alarm(PATIENCE)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        sys.meta_path.insert(0, Changed(path, source))
        os._exit(int(pytest.main([*PYTEST, *tests])) != 0)
    return os.waitpid(child, 0)[1] != 0


def main() -> int:
    """Print every survivor, and each module's score."""
    # Nothing that is learnt from a changed sum may be kept for the real ones.
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = tempfile.mkdtemp()
    number, wanted = int(os.environ.get("MUTANTS", "20")), sys.argv[1:] or list(MODULES)
    for name in WARM:
        importlib.import_module(name)
    found = tried = 0
    tests_of = MODULES | ON_REQUEST
    for path in wanted:
        before, source = time.monotonic(), (BASE / path).read_text(encoding="utf-8")
        if killed(path, source, tests_of[path]):
            sys.stdout.write(f"{path}: its tests fail without any change\n")
            return 2
        every = mutants_of(source)
        chosen = random.Random(SEED).sample(every, min(number or len(every), len(every)))
        left = [one for one in chosen if not killed(path, one.source, tests_of[path])]
        found, tried = found + len(chosen) - len(left), tried + len(chosen)
        took = time.monotonic() - before
        sys.stdout.write(
            f"{path}: {len(chosen) - len(left)} of {len(chosen)} (of {len(every)}), {took:.0f} s\n"
        )
        for one in sorted(left, key=lambda mutant: mutant.line):
            sys.stdout.write(f"  survived, line {one.line}: {one.was}  ->  {one.now}\n")
        sys.stdout.flush()
    sys.stdout.write(f"killed {found} of {tried}: {100 * found / tried:.1f} %\n")
    return 0 if found >= 0.9 * tried else 1


if __name__ == "__main__":
    sys.exit(main())
