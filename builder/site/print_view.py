"""How to print a mold, as rows of a page: label, and what stands behind it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from markupsafe import Markup

from builder.base import figures, units
from builder.base.texts import Texts
from builder.model import Figure, Measurement, MoldRecord, Prices, Tables, Vec3
from builder.site.data_tables import own_amounts
from builder.spec import print_table

if TYPE_CHECKING:
    from builder.advice import printing

Value = Figure | str | Markup
Row = tuple[str, list[Value]]
"""Key of the label, and figures and words in order."""


def rows(record: MoldRecord, texts: Texts, tables: Tables) -> list[Row]:
    """Settings and needs for the mold material that the maker chose."""
    return [(f"page.print.{label}", values) for label, values in _rows(record, texts, tables) if values]


def usual(tables: Tables, texts: Texts) -> list[tuple[str, str, list[Figure | None]]]:
    """How molds of each material are usually made: its id, in words, and walls, infill, layer height."""
    from builder.advice import printing

    made = []
    for material in tables.mold_materials:
        process, *settings = printing.usual_settings(material.id, print_table.load())
        made.append((material.id, texts.say(f"page.materials.process.{process}"), settings))
    return made


def time(record: MoldRecord, tables: Tables) -> Figure | None:
    """How long the printing takes; None for a mold that is not printed."""
    return _advised(record, tables).time


def _advised(record: MoldRecord, tables: Tables) -> printing.PrintAdvice:
    from builder.advice import printing

    spec = record.spec
    material = next(one for one in tables.mold_materials if one.id == spec.mold_material)
    most = tables.practice["overhang"].value
    return printing.settings(spec, record.measurement, material, print_table.load(), most)


def _rows(record: MoldRecord, texts: Texts, tables: Tables) -> Iterator[Row]:
    from builder.advice import printing

    spec, own = record.spec, record.spec.maker.printed
    advised = _advised(record, tables)
    yield "material", [materials(record, texts)]
    if advised.process == "cut":
        return
    yield "walls", _told(advised.walls)
    yield "infill", _told(advised.infill)
    yield "layer", _told(advised.layer)
    yield "orientation", [own.orientation or texts.say("page.print.cavity_up")]
    yield "own_bed", _on_bed(spec.maker.bed_mm, record.measurement, texts)
    yield "supports", _supports(own.supports, advised.overhang, texts)
    yield advised.process, [*_told(advised.used_g), *_told(advised.length_m or advised.used_ml)]
    yield "time", [texts.say(f"page.print.takes.{advised.time_word}")]
    prices = spec.maker.prices
    if prices and prices.filament_per_kg and advised.used_g:
        yield "cost", [money(printing.cost(advised.used_g, prices.filament_per_kg), prices, texts)]
    if own.note:
        yield "note", [own.note]


def _on_bed(bed_mm: Vec3 | None, measured: Measurement, texts: Texts) -> list[Value]:
    """The room of the maker's printer, and the parts that do not fit; [] where it is not told."""
    if bed_mm is None:
        return []
    read, room = figures.measured(measured), (*sorted(bed_mm[:2]), bed_mm[2])

    def fits(part: str) -> bool:
        flat = sorted(read[f"{part}.bed.{axis}"].value for axis in "xy")
        needs = (*flat, read[f"{part}.height"].value)
        return all(need <= has for need, has in zip(needs, room, strict=True))

    printed = [(index, part) for index, part in enumerate(measured.parts) if part.role != "bait"]
    large = [part.name for index, part in printed if not fits(f"part.{index}")]
    told = "page.print.too_large" if large else "page.print.fits"
    wide, deep, high = (figures.exact(one, "mm", "page.print.own_bed", "declared") for one in bed_mm)
    return [wide, "×", deep, "×", high, texts.say(told, parts=", ".join(large))]


def _supports(own: str, overhang: Figure | None, texts: Texts) -> list[Value]:
    if own:
        return [own]
    return [texts.say("page.print.under"), overhang] if overhang else [texts.say("page.print.none")]


def materials(record: MoldRecord, texts: Texts) -> str:
    """The maker's mold material, and the others that stand the heat of the maker's plastisol."""
    own, *others = record.advice.windows
    stand = [w.mold_material for w in others if w.plastisol == own.plastisol and w.shoot_c is not None]
    chosen = texts.name("material", own.mold_material)
    if not stand:
        return chosen
    named = ", ".join(texts.name("material", one) for one in stand)
    return texts.say("page.print.also", material=chosen, others=named)


def shot_cost(record: MoldRecord, texts: Texts) -> str | Markup:
    """What the plastisol of one shot costs with its spare; "" where the maker told no price."""
    from builder.advice import printing

    prices = record.spec.maker.prices
    if prices is None or prices.plastisol_per_l is None:
        return ""
    heat = own_amounts(record).batch[0].heat_ml
    return money(printing.cost(heat, prices.plastisol_per_l), prices, texts)


def money(triple: printing.Triple, prices: Prices, texts: Texts) -> Markup:
    """An amount of money as a figure on a page."""
    told = units.money(triple, prices.currency, texts.language)
    return Markup('<var title="{}">{}</var>').format(texts.say("page.origin.computed"), told)


def _told(figure: Figure | None) -> list[Value]:
    return [figure] if figure else []
