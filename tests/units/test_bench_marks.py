"""Marks that the bench saves are marks that every reader takes."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

pytest.importorskip("starlette")

from lookwright.app.bench.mark_table import MarkTable
from lookwright.pictures.stills import Mark, read_marks


def table(path: Path, *stems: str) -> MarkTable:
    return MarkTable(path, [path.with_name(f"{s}.png") for s in stems], cast(Any, None))


def test_every_start_column_of_a_drawn_box_reads_back(tmp_path: Path) -> None:
    """Boxes that end at the right or bottom edge: each of two numbers rounded, their sum passed 1 by a ten-thousandth
    at about one column in a hundred."""
    path = tmp_path / "marks.toml"
    would = 0
    for width in (1920, 1998, 3840, 2000):
        starts = np.arange(1, width) / width
        naive = [float(f"{x:.4f}") + float(f"{1.0 - x:.4f}") for x in starts]
        bad = starts[np.array(naive) > 1.0 + 1e-9]
        would += len(bad)
        chosen = [*bad[:40], *starts[::97]]
        marks = table(path, "a")
        drawn = [Mark(f"m{i}", (x, x, 1.0 - x, 1.0 - x)) for i, x in enumerate(map(float, chosen))]
        marks.put(0, drawn)
        marks.save(overwrite=True)
        found = read_marks(path)["a"]
        assert len(found) == len(drawn)
        for one, other in zip(found, drawn, strict=True):
            assert one.box[0] + one.box[2] <= 1.0 + 1e-12
            np.testing.assert_allclose(one.box, other.box, rtol=0, atol=1.01e-4)
    assert would > 10, "else this shows nothing"


def test_the_smallest_boxes_keep_an_area(tmp_path: Path) -> None:
    path = tmp_path / "marks.toml"
    marks = table(path, "a")
    marks.put(0, [Mark("one", (0.99999, 0.0, 0.00001, 0.00001)), Mark("two", (0.5, 0.5, 0.00002, 0.2))])
    marks.save()
    assert [m.name for m in read_marks(path)["a"]] == ["one", "two"]


def test_all_marks_taken_out(tmp_path: Path) -> None:
    path = tmp_path / "marks.toml"
    path.write_text('[a."wall"]\nbox = [0, 0, 1, 1]\n')
    marks = table(path, "a", "b")
    marks.put(0, [])
    marks.save()
    assert read_marks(path).get("a", []) == []
    again = table(path, "a", "b")
    assert again.of(0) == [] and not again.dirty


def test_unsaved_marks_go_into_another_table_and_back(tmp_path: Path) -> None:
    path = tmp_path / "marks.toml"
    path.write_text('# remark\n[a."wall"]\nbox = [0, 0, 1, 1]\n')
    marks = table(path, "a", "b")
    assert marks.unsaved() is None
    marks.put(0, [])
    marks.put(1, [Mark("lamp", (0.1, 0.2, 0.3, 0.4), 70.0, "lamp")])
    kept = marks.unsaved()
    assert kept is not None and path.read_text().startswith("# remark\n[a.")
    again = table(path, "a", "b")
    again.take(kept)
    assert again.of(0) == [] and again.of(1) == marks.of(1) and again.dirty
