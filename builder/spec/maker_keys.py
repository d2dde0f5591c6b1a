"""The keys of mold.yaml by which a maker shows the mold: photos, links, hardware, print settings, prices."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from builder.base import links
from builder.model import FromMaker, Link, Prices, PrintedWith
from builder.spec.schema import Key, ListOf, Table
from builder.spec.types import ANYWHERE, Choice, FileName, Number, Schema, Scope, Text, Vector, fault, misfit
from builder.spec.yaml_reader import Node, shorten

SOURCES = (".step", ".stp", ".iges", ".igs", ".brep", ".dxf")
"""Endings of open forms that no browser runs or shows; a 3MF is a mesh, and may be a part."""
CURRENCIES = (
    *("AUD", "BRL", "CAD", "CHF", "CNY", "CZK", "DKK", "EUR", "GBP", "HUF", "INR", "JPY"),
    *("KRW", "MXN", "NOK", "NZD", "PLN", "RON", "RUB", "SEK", "TRY", "UAH", "USD", "ZAR"),
)
"""ISO 4217 codes."""


@dataclass(frozen=True, slots=True)
class Address:
    """A page's address by https; with `mail` a mail address too. Nothing else, for visitors follow it."""

    mail: bool = False

    def read(self, node: Node, scope: Scope) -> str:
        """The address as it was written."""
        if not isinstance(node.value, str):
            raise misfit(node, self.words(scope))
        text = node.text
        if not (links.is_link(text) if self.mail else links.is_web(text)):
            remedy = f"write https:{text[5:]}" if links.is_web(f"https:{text[5:]}") else ""
            raise fault(
                node.where, f"{shorten(text)} is not an address for a link", self.words(scope), remedy
            )
        return text

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A string of one of the forms."""
        form = f"^(?:{links.WEB}|{links.MAIL})$" if self.mail else f"^(?:{links.WEB})$"
        return {"type": "string", "maxLength": links.LONGEST, "pattern": form}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """Its forms."""
        mail = " or mailto:NAME@example.org" if self.mail else ""
        return f"an address such as https://example.org/page{mail}"


def _photo(*, file: str, caption: str = "") -> tuple[str, str]:
    return file, caption


_PHOTO = Table(
    "a photo",
    (
        Key(
            "file",
            FileName((".jpg", ".jpeg", ".png", ".webp")),
            "The picture's file.",
            "bait.jpg",
            required=True,
            also=("path",),
        ),
        Key("caption", Text(200), "What it shows.", "Fresh out of the mold.", also=("title", "text")),
    ),
    _photo,
    short="file",
)
_LINK = Table(
    "a link",
    (
        Key("title", Text(80), "What it leads to.", "How I rig it", required=True, also=("name",)),
        Key("url", Address(), "Its address.", "https://example.org/rig", required=True, also=("href",)),
    ),
    Link,
)
_PRINTED = Table(
    "print",
    (
        Key("walls", Number(1, 40, whole=True), "Wall lines.", "4", also=("perimeters",)),
        Key("infill_share", Number(0, 1), "Infill, as a share.", "0.4", also=("infill",)),
        Key("layer_mm", Number(0.01, 1, "mm"), "Layer height.", "0.15", also=("layer", "layer_height")),
        Key("orientation", Text(120), "How the parts lie.", "cavity up"),
        Key("supports", Text(120), "Which supports it needs.", "none", also=("support",)),
        Key("note", Text(300), "Anything else.", "Slow the outer wall down."),
    ),
    PrintedWith,
)
_PRICES = Table(
    "prices",
    (
        Key("currency", Choice(CURRENCIES), "Code of the currency.", "EUR", required=True),
        Key("filament_per_kg", Number(0.01, 1e6), "Price of 1 kg of filament or resin.", "22"),
        Key("plastisol_per_l", Number(0.01, 1e6), "Price of 1 L of plastisol.", "18"),
    ),
    Prices,
)
MAKER = (
    Key(
        "photos",
        ListOf(_PHOTO, most=20, lone=True),
        "Photographs by the maker, each by its name or with a caption; where they were taken is removed.",
        "[{file: bait.jpg, caption: Fresh out of the mold.}]",
        also=("pictures", "images"),
    ),
    Key(
        "sources",
        ListOf(FileName(SOURCES), most=20, lone=True),
        "Files that the mold was drawn in, offered beside its meshes and not read.",
        "[reed-minnow.step]",
        also=("source", "cad"),
    ),
    Key(
        "bed_mm",
        Vector(Number(20, 5000, "mm")),
        "Width, depth and height that your printer takes: pages say which parts do not fit.",
        "[220, 220, 250]",
        also=("bed", "printer_bed"),
    ),
    Key("video", Address(), "A video of it, as a plain link.", "https://example.org/video"),
    Key(
        "links",
        ListOf(_LINK, most=20),
        "Pages that belong to it.",
        "[{title: Rig, url: https://example.org}]",
    ),
    Key(
        "contact",
        Address(mail=True),
        "How to reach the maker.",
        "mailto:jo@example.org",
        also=("mail", "email"),
    ),
    Key(
        "thanks", Address(), "Where to thank the maker.", "https://example.org/thanks", also=("donate", "tip")
    ),
    Key(
        "ask",
        Address(mail=True),
        "Where to ask for a change.",
        "https://example.org/issues",
        also=("issues", "requests"),
    ),
    Key(
        "credits",
        ListOf(Text(200), most=20, lone=True),
        "Whom it owes something.",
        "[Tail after a sketch by Sam]",
        also=("credit",),
    ),
    Key(
        "hardware",
        ListOf(Text(120), most=20, lone=True),
        "What else it takes to put it together.",
        "[2 dowel pins 5 × 20]",
    ),
    Key("eyes", Text(120), "The eyes that the maker uses.", "3D eyes 5 mm, silver"),
    Key(
        "print",
        _PRINTED,
        "How the maker printed it.",
        "{walls: 4, infill_share: 0.4, layer_mm: 0.15}",
        also=("print_settings", "printing"),
    ),
    Key(
        "prices",
        _PRICES,
        "What material costs the maker, to work out costs.",
        "{currency: EUR, filament_per_kg: 22}",
    ),
)
_FIELDS = {"print": "printed"}
"""Names of keys whose field has another."""


def taken(values: dict[str, Any]) -> dict[str, Any]:
    """The values of a mold.yaml by key, with those of this module gathered in `maker`."""
    photos = values.get("photos", ())
    told = {_FIELDS.get(key.name, key.name): values[key.name] for key in MAKER[1:] if key.name in values}
    left = {name: value for name, value in values.items() if name not in {key.name for key in MAKER}}
    captions = tuple(caption for _, caption in photos)
    return {
        **left,
        "photos": tuple(file for file, _ in photos),
        "maker": FromMaker(captions=captions, **told),
    }
