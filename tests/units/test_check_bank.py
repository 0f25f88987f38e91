"""A small part of the bank of faults and harmless LUTs (all of it: tests/benchmarks/check_bank.py), and what is
said."""

from __future__ import annotations

import pytest
from check_faults import faults
from check_harmless import harmless

from lookwright.assess.restraint.check import check
from lookwright.assess.restraint.limits import MEASURES
from lookwright.assess.restraint.limits.measure import OURS
from lookwright.assess.restraint.verdict import HEADS

SEED = 21
"""Not one of those (1 to 5) by which the limits were set."""

CASES = faults(SEED, each=1)
FINE = harmless(SEED)


def test_planted_faults_fail_for_their_reasons() -> None:
    """Nineteen in twenty at least (one kind may be missed: a fold so near the limit of the display that a lattice
    hardly holds it); whatever fails is said in the sentence of its group, with what to do, and a file gets one closing
    paragraph."""
    missed = []
    for case in CASES:
        report = check(case.subject())
        failed = report.of("fail")
        if not {f.measure for f in failed} & case.reasons:
            missed.append((case.kind, case.what, [f.measure for f in failed]))
            continue
        for sentence, head in zip(report.verdict, HEADS.values(), strict=True):
            assert sentence.startswith(f"{head}: ") and sentence.endswith(".")
        spoken = report.verdict[list(HEADS).index(failed[0].group)]
        told = [f for f in failed if f.group == failed[0].group and f.found[1:] in spoken and f.advice in spoken]
        assert "not usable as it is" in spoken and told
        assert "no parameters to ease" not in " ".join(report.verdict)
        assert report.closing.startswith("A LUT file cannot be eased in parts.")
    assert len(missed) <= 0.05 * len(CASES), missed


@pytest.mark.parametrize(("name", "subject"), FINE[::3], ids=[name for name, _ in FINE[::3]])
def test_a_harmless_one_passes(name: str, subject) -> None:
    report = check(subject)
    assert not report.of("fail"), [(f.measure, f.value) for f in report.of("fail")]
    assert report.closing == "" and all("not usable" not in sentence for sentence in report.verdict)


def test_the_bank_is_as_large_as_it_says() -> None:
    assert len(faults(1)) >= 60 and len(FINE) >= 40
    names = {m.name for m in MEASURES}
    assert all(case.reasons <= names for case in CASES)


def test_limits_have_sources() -> None:
    """At most three are our choice alone; every line says where its numbers come from."""
    ours = [m.name for m in MEASURES if OURS in m.source]
    assert len(ours) <= 3, ours
    assert all(len(m.source) > 8 and m.plainly for m in MEASURES)
