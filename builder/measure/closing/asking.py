"""What is asked where halves do not close, or not in one way only."""

from __future__ import annotations

from builder.base.problems import Faults
from builder.measure.questions import needs_hint
from builder.model import MoldSpec


def not_two(spec: MoldSpec, count: int) -> Faults:
    """The question where a closed mold has not two halves."""
    what = f"the mold has {count} parts of role half"
    if count == 1 and len(spec.parts) == 1:
        remedy = (
            f"if {spec.parts[0].file} holds both halves closed, they have grown into one body there: "
            "export each half as a file of its own; if it is poured open, write kind: open pour"
        )
    elif count > 2:
        remedy = (
            "join the segments of each half in the CAD and export two halves; only what is no piece of the "
            "block has another role"
        )
    else:
        remedy = "name the file of each half, and give the other parts the role core, plug, blade or bait"
    return needs_hint(spec, "parts", what, "two halves", remedy)


def no_other(spec: MoldSpec) -> Faults:
    """What stops the search for other ways to close the halves."""
    return needs_hint(spec, "parts", "the halves fit together in no other way")


def only_backs(spec: MoldSpec, first: int, second: int) -> Faults:
    """The question where halves have no flat face but their backs, and do not rest on each other."""
    files = f"{spec.parts[first].file} and {spec.parts[second].file}"
    what = (
        f"{files} have a curved or folded parting, are not closed in their files, and do not fit together "
        "when one is laid onto the other"
    )
    remedy = "export both as they lie in the closed mold, or write the placing of both"
    return needs_hint(spec, f"parts[{second}].placing", what, "", remedy)


def not_meeting(spec: MoldSpec, first: int, second: int) -> Faults:
    """The question where halves rest on points of each other only."""
    what = (
        f"{spec.parts[first].file} and {spec.parts[second].file}, when closed, touch at only a few places of "
        "their parting; elsewhere there is a gap between them, or they overlap"
    )
    remedy = "correct the placing, or let a mesh editor flatten both parting faces"
    return needs_hint(spec, f"parts[{second}].placing", what, "parting faces that fit each other", remedy)


def no_face(spec: MoldSpec, index: int) -> Faults:
    """The question for a part without a parting face."""
    what = f"{spec.parts[index].file} has no flat face that could be the parting face"
    return needs_hint(spec, f"parts[{index}].parting", what, "", "write a point on it and its outward normal")


def unplaced(spec: MoldSpec, index: int) -> Faults:
    """The question where a core or blade lies."""
    file = spec.parts[index].file
    what = f"the place of {file} in the mold is not known, because the halves are not closed in their files"
    return needs_hint(
        spec, f"parts[{index}].placing", what, "", "write its placing, or export all parts as closed"
    )


def overlapping(spec: MoldSpec, second: int, overlap: float) -> Faults:
    """The question for halves that run into each other."""
    what = f"when closed, the halves overlap by {100 * overlap:.1f} % of the smaller one"
    return needs_hint(
        spec, f"parts[{second}].placing", what, "", "write how the second half lies in the closed mold"
    )
