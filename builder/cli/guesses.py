"""What the files of a mold that nobody has told of may be: the kind of mold and the role of each part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder import measure, mesh
from builder.measure import mistaken
from builder.model import Kind, LengthUnit, Role, Solid


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A kind of mold and the role of each part."""

    kind: Kind
    roles: Sequence[Role]
    after: str = ""
    """Tried only where the key that the first guess asks for ends so."""
    stays: bool = False
    """True if it is told even where a question about the plastic is left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """The contents of the files with their names and unit, for guesses that take a look at the parts."""

    contents: Sequence[bytes]
    names: Sequence[str]
    unit: LengthUnit

    def solid(self, index: int) -> Solid:
        """One part as it is filed."""
        return mesh.read(self.contents[index], self.names[index], self.unit)[0]


def castings(boxes: Sequence[tuple[float, float, float]], files: Files) -> Iterator[Guess]:
    """What the parts, of these sizes (mm), may be, likeliest first: the two largest of several are halves."""
    if len(boxes) == 1:
        yield Guess(kind="open pour", roles=["open"])
        yield Guess(kind="injection", roles=["half"], stays=True)  # one file may hold both halves
        yield Guess(kind="injection", roles=["bait"])
        return
    by_size = sorted(
        range(len(boxes)), key=lambda index: -boxes[index][0] * boxes[index][1] * boxes[index][2]
    )

    def with_others(role: Role, after: str = "") -> Guess:
        roles: list[Role] = ["half" if index in by_size[:2] else role for index in range(len(boxes))]
        return Guess(kind="injection", roles=roles, after=after)

    if len(boxes) == 2:
        yield with_others("half")
        return
    yield with_others("core")
    if pieces := measure.piece_roles([files.solid(index) for index in range(len(boxes))]):
        yield Guess(kind="injection", roles=pieces, stays=True)
    if not any(mistaken.is_block(files.solid(index)) for index in by_size[2:]):
        yield with_others("bait")
    yield with_others("plug", after=".role")  # only where the reading says that it is no core
