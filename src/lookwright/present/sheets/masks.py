"""Where in a picture a finding lies: its pixels as they are graded, all others dark and grey."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array, Pixels
from lookwright.assess.restraint.clipping import clipped
from lookwright.assess.restraint.limits import BY_NAME
from lookwright.assess.restraint.report import Report, Where
from lookwright.assess.restraint.subject import Subject

MOST = 3
"""Findings shown on one still, the worst first."""
LEAST_SHARE = 0.005
"""Share of a picture from which it is worth pointing there."""
REACH = 0.045
"""Distance, plainly rendered, from the colours that were judged up to which a pixel is one of them: in the Oklab a, b
plane four to five just visible steps."""
LIGHTNESS = np.array([0.3, 1.0, 1.0])
"""Lightness counts for less than hue and colour: the colours that are judged stand in whole stops."""
DIM = 0.22
"""Light left to the pixels that are not concerned: enough to know the picture by."""


@dataclass(frozen=True)
class Mask:
    """The pixels of one finding."""

    title: str
    share: float
    """Of the picture, 0..1."""
    pixels: NDArray[np.bool_]
    """(H, W)."""


def masks(report: Report, subject: Subject, code: Pixels) -> list[Mask]:
    """The findings to be seen on a still, its code values (H, W, 3), the worst first; at most :data:`MOST`."""
    plain = np.asarray(subject.plain_picture(code), np.float64)
    lab = subject.oklab(plain)
    found: list[Mask] = []
    for finding in report.findings:
        if finding.state == "ok" or len(found) == MOST:
            break
        where = report.where.get(finding.measure)
        if finding.measure == "still_clipped":
            member = clipped(subject, np.asarray(subject.graded_picture(code))) & ~clipped(subject, plain)
        elif where is not None:
            member = near(lab, where, subject)
        else:
            continue
        share = float(member.mean())
        same = any(_alike(member, other.pixels) for other in found)
        if share >= LEAST_SHARE and not same:
            found.append(Mask(BY_NAME[finding.measure].plainly, share, member))
    return found


def near(lab: Array, where: Where, subject: Subject) -> NDArray[np.bool_]:
    """(H, W) of a picture in Oklab, plainly rendered: pixels whose nearest judged colour is a harmful one."""
    from scipy.spatial import cKDTree  # a fifth of a second, and only where something is amiss

    judged = subject.oklab(subject.plain(subject.feed(where.scene)))
    distance, nearest = cKDTree(judged * LIGHTNESS).query(lab.reshape(-1, 3) * LIGHTNESS, distance_upper_bound=REACH)
    harmful = np.append(where.harmful, False)  # where nothing is within reach, the index is one past the end
    return np.asarray((harmful[nearest] & np.isfinite(distance)).reshape(lab.shape[:2]))


def _alike(a: NDArray[np.bool_], b: NDArray[np.bool_]) -> bool:
    """Whether two masks show the same place: nine tenths of either in common."""
    return bool((a & b).sum() > 0.9 * max(a.sum(), b.sum()))


def pointed(graded: Pixels, member: NDArray[np.bool_]) -> Pixels:
    """The graded picture (H, W, 3), its other pixels grey and dark."""
    grey = DIM * np.asarray(graded, np.float32).mean(axis=-1, keepdims=True)
    return np.where(member[..., None], graded, grey).astype(np.float32)
