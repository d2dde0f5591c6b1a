"""Reads molds/requests.yaml: requested molds, their state, and the mold that resulted."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from builder.model import Request
from builder.spec.maker_keys import Address
from builder.spec.schema import Key, ListOf, Table
from builder.spec.types import SLUG, Choice, Day, Schema, Scope, Text, did_you_mean, fault, gather
from builder.spec.yaml_reader import Node, items, read_file, read_yaml

FILE = "requests.yaml"
_REQUEST = Table(
    "a request",
    (
        Key(
            "asked", Text(300), "What was asked for.", "A paddle tail of 90 mm", required=True, also=("what",)
        ),
        Key("date", Day(), "When it was asked.", "2026-03-01", required=True),
        Key("by", Text(60), "Who asked, if they want to be named.", "a visitor", also=("from", "who")),
        Key(
            "state",
            Choice(("open", "drawing", "done", "declined")),
            "What became of it.",
            "done",
            default="open",
            also=("status",),
        ),
        Key(
            "mold",
            Text(60, SLUG.pattern, "the folder name of a mold, such as reed-minnow", only=True),
            "The mold that came of it, needed when it is done.",
            "reed-minnow",
            also=("slug",),
        ),
        Key("note", Text(300), "Anything else, such as why it was declined.", "Too wide for one half"),
    ),
    Request,
)
REQUESTS = Table(
    FILE,
    (
        Key(
            "requests",
            ListOf(_REQUEST, most=1000),
            "The requests, in the order in which they are shown.",
            "[{asked: A paddle tail of 90 mm, date: 2026-03-01}]",
            required=True,
        ),
        Key(
            "ask",
            Address(mail=True),
            "Where to ask for a mold: a page or a mail address.",
            "mailto:molds@example.org",
            also=("contact", "mail"),
        ),
    ),
    dict,
)


def load(molds: Path, slugs: Sequence[str]) -> tuple[Request, ...]:
    """The requests in the molds folder, none without the file; Faults with everything that is wrong.

    `slugs` are the molds there are, which a request may name.
    """
    file = molds / FILE
    if not file.exists() and not file.is_symlink():
        return ()
    root = read_yaml(read_file(file), str(file))
    found: tuple[Request, ...] = REQUESTS.read(root, Scope())["requests"]
    entries = next(child for child in items(root) if child.named.key == "requests")
    gather(partial(_check, one, node, slugs) for one, node in zip(found, items(entries), strict=True))
    return found


def ask(molds: Path) -> str:
    """Where visitors may ask for a mold; "" where nobody told. Faults with everything that is wrong."""
    file = molds / FILE
    if not file.exists() and not file.is_symlink():
        return ""
    told: str = REQUESTS.read(read_yaml(read_file(file), str(file)), Scope()).get("ask", "")
    return told


def schema() -> Schema:
    """The JSON Schema of requests.yaml, in draft-07."""
    head = {"$schema": "http://json-schema.org/draft-07/schema#", "title": "Shotbook requests"}
    return head | REQUESTS.schema(Scope())


def _check(request: Request, node: Node, slugs: Sequence[str]) -> None:
    """A request that is done names a mold that there is."""
    if request.state == "done" and not request.mold:
        raise fault(node.where, "this request is done, but names no mold", "mold: its folder name")
    if request.mold and request.mold not in slugs:
        where = next(child.where for child in items(node) if child.named.key.endswith(".mold"))
        what = f"there is no mold {request.mold}"
        raise fault(where, what, f"one of {', '.join(slugs)}", did_you_mean(request.mold, slugs))
