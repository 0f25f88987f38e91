"""What all tests share: a repeatable profile for hypothesis, and the shared strategies on the path."""

import os
import random
import sys
import tempfile
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.configuration import set_hypothesis_home_dir

# Hypothesis keeps constants it found in the code; not in the working tree.
set_hypothesis_home_dir(Path(tempfile.gettempdir()) / "hypothesis-home")

# The same examples on every machine and in every run: a test that fails does so for everyone.
# No deadline, because a shared machine may be slow; no database, because nothing is to be remembered.
settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    database=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
# Other examples in every run, and more of them (.ci/random); the seed it prints brings them back.
settings.register_profile("random", settings.get_profile("repeatable"), derandomize=False, max_examples=100)
PROFILE = os.environ.get("HYPOTHESIS_PROFILE", "repeatable")
settings.load_profile(PROFILE)

SECONDS = float(os.environ.get("HYPOTHESIS_SECONDS", "inf"))
"""No test is begun later than this, counted from the start of the process that runs it."""
_BEGAN = time.monotonic()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With the random profile only what draws examples, in an order that the seed decides."""
    if PROFILE == "random":
        items[:] = [item for item in items if getattr(getattr(item, "obj", None), "is_hypothesis_test", False)]
        random.Random(str(config.getoption("hypothesis_seed"))).shuffle(items)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Leave what the time does not suffice for."""
    if time.monotonic() - _BEGAN > SECONDS:
        pytest.skip(f"the {SECONDS:g} seconds are over")


# Tests are imported by path (--import-mode=importlib), so a module two of them share must be put in reach.
sys.path.insert(0, str(Path(__file__).parent / "shared"))
