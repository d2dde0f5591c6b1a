"""Compares what was read with the truths of the drawing, number by number."""

from __future__ import annotations

from dataclasses import dataclass

from tests.cad_molds.reader_door import Measurement
from tests.cad_molds.records import Case, Truths

BAIT_SHARE, FEED_SHARE, TRUNK_SHARE, EYE_SHARE, BOLT_SHARE = 0.006, 0.02, 0.03, 0.03, 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """One number that is off: what, truth, read. `counts` is whether it makes the reading wrong."""

    what: str
    truth: str
    read: str
    counts: bool = True

    def __str__(self) -> str:
        return f"{self.what}: {self.read} instead of {self.truth}"


def judge(case: Case, read: Measurement) -> list[Off]:
    """Every number that is off; empty where the reading is right."""
    return [
        *_volumes(case.truths, read),
        *_counts(case.truths, read),
        *_trunk(case.truths, read),
        *_sizes(case.truths, read),
    ]


def _share(truth: float, read: float) -> str:
    return f" ({(read - truth) / truth:+.2%})" if truth else ""


def _volumes(truth: Truths, read: Measurement) -> list[Off]:
    found = []
    baits, seen = sorted(truth.baits_ml), sorted(bait.volume_ml for bait in read.baits)
    if len(baits) != len(seen):
        found.append(Off(what="number of baits", truth=str(len(baits)), read=str(len(seen))))
    for one, other in zip(baits, seen, strict=False):
        if abs(other - one) > BAIT_SHARE * one + truth.slack_ml:
            found.append(Off(what="bait mL", truth=f"{one:.4f}", read=f"{other:.4f}{_share(one, other)}"))
    fed = (read.sprue.volume_ml if read.sprue else 0.0) + read.runner.volume_ml
    likely = min(
        (truth.feed_ml, truth.feed_ml + truth.overflow_ml, truth.feed_ml - truth.seat_ml),
        key=lambda ml: abs(ml - fed),
    )
    if abs(fed - likely) > FEED_SHARE * likely + truth.slack_ml + 1e-6:
        found.append(Off(what="feed mL", truth=f"{likely:.4f}", read=f"{fed:.4f}{_share(likely, fed)}"))
    return found


def _counts(truth: Truths, read: Measurement) -> list[Off]:
    pairs = [
        ("bolts", (len(truth.bolts_mm),), len(read.bolts)),
        ("pins", (truth.pins,), len(read.pins)),
        ("vents", truth.vents, len(read.vents)),
    ]
    pairs += [(f"eyes of {bait.name}", (len(truth.eye_mm),), len(bait.sockets)) for bait in read.baits]
    return [
        Off(what=what, truth=" or ".join(map(str, right)), read=str(seen))
        for what, right, seen in pairs
        if seen not in right
    ]


def _trunk(truth: Truths, read: Measurement) -> list[Off]:
    if truth.trunk_mm is None:
        return []
    low, high = truth.trunk_mm
    found = []
    for bait in read.baits:
        if bait.thinnest is None:
            found.append(Off(what="trunk mm", truth=f"{high:.3f}", read="none", counts=False))
        elif not low * (1 - TRUNK_SHARE) <= bait.thinnest.thickness_mm <= high * (1 + TRUNK_SHARE):
            seen = bait.thinnest.thickness_mm
            # A gate narrower than any trunk may be meant: told, but not held against the reading.
            gate = any(abs(seen - g.thickness_mm) < 0.03 * seen and seen < low for g in bait.gates)
            what = "trunk mm (it is the gate)" if gate else "trunk mm"
            read_as = f"{seen:.3f}{_share(low, seen)}"
            found.append(Off(what=what, truth=f"{low:.3f} to {high:.3f}", read=read_as, counts=not gate))
    return found


def _sizes(truth: Truths, read: Measurement) -> list[Off]:
    """Sizes that are told beside the counts: they do not make a reading wrong here."""
    found = []
    for one, other in zip(
        sorted(truth.lengths_mm), sorted(bait.length_mm for bait in read.baits), strict=False
    ):
        if abs(other - one) > 0.01 * one + 0.3 and not truth.slack_ml:
            found.append(Off(what="bait length mm", truth=f"{one:.2f}", read=f"{other:.2f}", counts=False))
    for one, other in zip(
        sorted(truth.bolts_mm), sorted(bolt.diameter_mm for bolt in read.bolts), strict=False
    ):
        if abs(other - one) > BOLT_SHARE * one and len(read.bolts) == len(truth.bolts_mm):
            found.append(Off(what="bolt mm", truth=f"{one}", read=f"{other:.3f}", counts=False))
    for bait in read.baits:
        for socket in bait.sockets if truth.eye_mm else ():
            if abs(socket.diameter_mm - truth.eye_mm[0]) > EYE_SHARE * truth.eye_mm[0]:
                found.append(
                    Off(
                        what="eye mm",
                        truth=f"{truth.eye_mm[0]:.2f}",
                        read=f"{socket.diameter_mm:.3f}",
                        counts=False,
                    )
                )
    if read.volume_share > 0.03:
        found.append(
            Off(
                what="told range of the volume",
                truth="below ± 3 %",
                read=f"± {read.volume_share:.1%}",
                counts=False,
            )
        )
    return found
