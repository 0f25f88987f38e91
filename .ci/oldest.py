"""Print pip constraints that hold every dependency of pyproject.toml, extras too, at its lower bound."""

import tomllib
from itertools import chain
from pathlib import Path

project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
for requirement in chain(project["dependencies"], *project["optional-dependencies"].values()):
    if ">=" in requirement:
        print(requirement.partition(",")[0].replace(">=", "=="))
