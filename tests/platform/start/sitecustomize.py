"""Read by Python at its start, where this folder is in PYTHONPATH: a process of its own that is the other system."""

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from other_system import Patches, install

install(Patches(), *os.environ["OTHER_SYSTEM"].split(), root=Path(os.environ["OTHER_SYSTEM_ROOT"]))
