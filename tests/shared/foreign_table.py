"""Which files of others are read and which refused, as a Markdown page made from the tests' own cases.

    python tests/shared/foreign_table.py > tests/published/FOREIGN_FILES.md

``tests/published/test_clf_cdl_files.py`` checks that the page and the cases agree, and every verdict in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from clf_cases import ILLEGAL, LEGAL, Case

HEAD = """# Files made by others: read or refused

Made from the cases that the tests run: `python tests/shared/foreign_table.py > tests/published/FOREIGN_FILES.md`.
OpenColorIO's own test files are not in its wheel, so each case is written anew from the rule that file stands for and
carries its name; those of colour-science and colour-clf-io are read from their wheels where they ship them. Releases
that the verdicts were seen with: OpenColorIO 2.6, colour-clf-io 0.2.0.
"""


def _word(verdict: str) -> str:
    return "read" if verdict == "r" else "refused"


def _clf(cases: Iterable[Case]) -> list[str]:
    rows = ["| case | lookwright | OpenColorIO | colour-clf-io |", "|---|---|---|---|"]
    for case in cases:
        verdicts = case.verdicts or ("rrr" if case.expected else "---")
        rows.append(f"| {case.name} | " + " | ".join(_word(v) for v in verdicts) + " |")
    return rows


def page(
    cube_read: Iterable[tuple[str, int, Any]],
    cube_refused: Iterable[str],
    cdl_read: Mapping[str, Any],
    cdl_refused: Mapping[str, tuple[str, str, str]],
    stricter: Mapping[str, str],
    stricter_cdl: Mapping[str, tuple[str, str, str, str]],
) -> str:
    """The whole page, from the lists of the two test files and those of ``clf_cases``."""
    lines = [HEAD, "## .cube", "", "| file or text | from | lookwright |", "|---|---|---|"]
    shipped = "colour-science's test resources | read, alike"
    lines += [f"| {name}, {size} points | {shipped} |" for name, size, _ in cube_read]
    lines += [f"| {name} | OpenColorIO's unit tests | refused, as there |" for name in cube_refused]
    lines += ["", "## CLF", "", "Where read, the result is what the specification's formula gives.", "", *_clf(LEGAL)]
    lines += ["", *_clf(ILLEGAL), "", "Where we differ from OpenColorIO:", ""]
    lines += [f"- {name}: {why}" for name, why in stricter.items()]
    lines += ["", "## ASC CDL", "", "OpenColorIO reads and refuses the same ones, but for the last.", ""]
    lines += ["| case | file | lookwright |", "|---|---|---|"]
    lines += [f"| {name} | {suffix} | read |" for name, (suffix, _, _) in cdl_read.items()]
    lines += [f'| {name} | {suffix} | refused: "{words}" |' for name, (suffix, _, words) in cdl_refused.items()]
    lines += [
        f'| {name} | {suffix} | refused: "{words}"; {why} |' for name, (suffix, _, words, why) in stricter_cdl.items()
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Print the page; the lists live in the tests that use them."""
    import runpy
    from pathlib import Path

    folder = Path(__file__).parents[1] / "published"
    cube = runpy.run_path(str(folder / "test_cube_files.py"))
    clf = runpy.run_path(str(folder / "test_clf_cdl_files.py"))
    print(
        page(
            cube["SHIPPED_3D"] + cube["SHIPPED_1D"],
            cube["MALFORMED"],
            clf["LEGAL_CDL"],
            clf["ILLEGAL_CDL"],
            clf["STRICTER"],
            clf["STRICTER_CDL"],
        ),
        end="",
    )


if __name__ == "__main__":
    main()
