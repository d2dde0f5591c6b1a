"""What all molds of a catalogue share: `molds/defaults.yaml`, for keys that a mold.yaml leaves out.

What is released is whole without it: the lines that a mold took from it are frozen in its mold.yaml.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from builder.base import contained
from builder.spec.types import did_you_mean, fault
from builder.spec.yaml_reader import Node, read_file, read_yaml

FILE = "defaults.yaml"
KEYS = ("author", "licence", "units", "plastisol", "mold_material", "bed_mm")
"""The keys that may be shared."""


def missing(root: Node, folder: Path) -> Mapping[str, Node]:
    """The shared keys that the mold.yaml `root` of a folder leaves out; Faults when the file has others."""
    file = folder.parent / FILE
    if not contained.is_file(folder.parent, FILE) or not isinstance(root.value, dict):
        return {}
    shared = read_yaml(read_file(file), str(file))
    if not isinstance(shared.value, dict):
        raise fault(shared.where, "this is not a group of keys", f"some of {', '.join(KEYS)}")
    for name, node in shared.value.items():
        if name not in KEYS:
            what, remedy = f"{name} cannot be shared by all molds", did_you_mean(name, KEYS)
            raise fault(node.named, what, f"one of {', '.join(KEYS)}", remedy)
    return {name: node for name, node in shared.value.items() if name not in root.value}


def completed(root: Node, folder: Path) -> Node:
    """The mold.yaml with the shared keys that it leaves out."""
    if not isinstance(root.value, dict) or not (more := missing(root, folder)):
        return root
    return replace(root, value={**root.value, **more})


def whole(text: str, folder: Path) -> str:
    """The text of a mold.yaml that means the same where there is no defaults.yaml."""
    more = missing(read_yaml(text, "mold.yaml"), folder)
    lines = (f"{name}: {_written(node)}\n" for name, node in more.items())
    end = "" if text.endswith("\n") or not more else "\n"
    return f"{text}{end}{''.join(lines)}"


def _written(node: Node) -> str:
    """A shared value as a mold.yaml has it: a word, or a list of numbers."""
    if isinstance(node.value, tuple):
        return f"[{', '.join(each.text for each in node.value)}]"
    return json.dumps(node.text, ensure_ascii=False)
