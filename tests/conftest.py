"""What all tests share: a repeatable profile for hypothesis, and the shared strategies on the path."""

import sys
import tempfile
from pathlib import Path

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
settings.load_profile("repeatable")

# Tests are imported by path (--import-mode=importlib), so a module two of them share must be put in reach.
sys.path.insert(0, str(Path(__file__).parent / "shared"))
