"""Which number belongs at which place of the pages that there are once: one line for each figure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from builder import build
from builder.model import MoldRecord, Request
from builder.spec import material_tables
from tests.numbers.expected import Line, Places, catalogue_card, cautions, worked_out
from tests.numbers.quantity import Near, Quantity, exact
from tests.numbers.sentences import TELLING, clean, table

Z_95 = 1.959963984540054
"""95 % of a normal law lie within so many standard deviations of its middle."""


def sourced(value: Mapping[str, Any]) -> Quantity:
    """A table's value."""
    return Quantity(value=value["value"], low=value["low"], high=value["high"], unit=value["unit"])


def materials(at: Places) -> Iterator[Line]:
    """Every value of every plastisol and mold material, common practice, eyes, sources."""
    yield from worked_out("", build.made_by(build.tables_digest(material_tables.load())), at)
    for file, section in (("plastisols", "plastisol"), ("mold_materials", "material")):
        for name, values in table(file).items():
            yield from rows(f"{section}-{name}", values, at)
    yield from printing(at)
    yield from rows("practice", table("practice"), at)
    for eye in table("eyes")["eyes_mm"]:
        yield "eyes | p", sourced(eye)
    for id_, text in table("sources").items():
        if TELLING.search(id_):
            yield "sources | dt", id_
        if TELLING.search(text):
            yield f"sources | {id_}", clean(text)


def printing(at: Places) -> Iterator[Line]:
    """Wall lines, infill and layer height of a filament mold, layer height of a resin mold; metal is cut."""
    usual = table("printing")
    for name in table("mold_materials"):
        if name == "aluminium":
            continue
        resin = {"layer": "layer_resin"}
        for column, key in (
            resin if "resin" in name else {k: k for k in ("walls", "infill", "layer")}
        ).items():
            place = at.cell("printing", clean(at.name("material", name)), at.say(f"page.print.{column}"))
            yield place, replace(sourced(usual[key]), letter="ᵖ")


def rows(section: str, values: Mapping[str, Any], at: Places) -> Iterator[Line]:
    """A table of values with their sources."""
    for name, value in values.items():
        label = clean(at.name("value", name))
        if TELLING.search(label):
            yield f"{section} | th", label
        yield at.cell(section, label, at.say("page.materials.amount")), sourced(value)
        if TELLING.search(value["source"]):
            yield at.cell(section, label, at.say("page.materials.source")), value["source"]


def ladder(at: Places) -> Iterator[Line]:
    """Temperatures of the fillings, and how far the marks stand apart."""
    for name, value, unit in (("hot", 170.0, "c"), ("mild", 145.0, "c"), ("above", 15.0, "k")):
        yield at.gap("fill", "page.ladder.fill_again", name), exact(value, unit, "ᵖ")
    yield at.gap("read", "page.ladder.read_tip", "tick"), exact(5.0, "mm", "ᵖ")


def method(records: Sequence[MoldRecord], at: Places) -> Iterator[Line]:
    """How reliable readings are, how predictions agree, and what the formulas give for published values."""
    yield from reliability(at)
    yield from public_molds(at)
    yield from agreement(records, at)
    listed = table("checks")["checks"]
    yield at.gap("checks", "page.method.checks_lead", "count"), str(len(listed))
    for check in listed:
        name, wanted = clean(check["name"]), float(check["expected"])
        heading = f"{name} {check['formula']}"
        if TELLING.search(heading):
            yield "checks | th", heading
        published = Near(value=wanted, tolerance=abs(wanted) * 5e-5, unit=check.get("unit", ""))
        yield at.cell("checks", name, at.say("page.method.expected")), published
        ours = Near(
            value=wanted,
            tolerance=float(check["tolerance"]) + abs(wanted) * 5e-5,
            unit=check.get("unit", ""),
            tail="✓",
        )
        yield at.cell("checks", name, at.say("page.method.ours")), ours
        source = clean(table("sources")[check["source"]])
        if TELLING.search(source):
            yield at.cell("checks", name, at.say("page.materials.source")), source


def reliability(at: Places) -> Iterator[Line]:
    """What came of reading molds drawn at random."""
    read = table("reading-outcomes")
    yield at.gap("reliability", "parts.reliability.lead", "molds"), str(read["molds"])
    for kind, count in read["outcomes"].items():
        row = at.say(f"parts.reliability.kinds.{kind}")
        yield at.cell("reliability", row, at.say("parts.reliability.molds")), str(count)
    for feature, kinds in read["features"].items():
        for kind in (kind for kind, count in read["outcomes"].items() if count):
            column = at.say(f"parts.reliability.short.{kind}")
            yield at.cell("reliability", at.say(f"parts.feature.{feature}"), column), str(kinds.get(kind, 0))


def public_molds(at: Places) -> Iterator[Line]:
    """Molds of strangers and their volumes by two ways."""
    listed = table("public-molds")["molds"]
    yield at.gap("public-molds", "parts.public.lead", "molds"), str(len(listed))
    for name, key in (("day", "read_on"), ("reader", "reader")):
        yield at.gap("public-molds", "parts.public.read_on", name), str(table("public-molds")[key])
    for one in listed:
        row = at.say(f"parts.public.kind.{one['kind']}")
        if TELLING.search(one["source"]):
            before = "" if TELLING.search(row) else f"{row} "
            yield "public-molds | th", before + clean(one["source"])
        for column, value in (("read", one["volume_ml"]), ("expected", one["expected_ml"])):
            if value is not None:
                told = Near(value=value, tolerance=value * 5e-5, unit="mL")
                yield at.cell("public-molds", row, at.say(f"parts.public.{column}")), told


def agreement(records: Sequence[MoldRecord], at: Places) -> Iterator[Line]:
    """How often the likeliest outcome came: the share with Wilson's interval."""
    shots = [one for record in records for one in record.advice.shots]
    agreed, n, key = sum(one.agrees for one in shots), len(shots), "page.method.agreed"
    share, z = agreed / n, Z_95
    middle, half = share + z * z / (2 * n), z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    low, high = ((middle + sign * half) / (1 + z * z / n) for sign in (-1, 1))
    yield at.gap("agreement", key, "agreed"), str(agreed)
    yield at.gap("agreement", key, "shots"), str(n)
    yield (
        at.gap("agreement", key, "share"),
        Quantity(value=share, low=low, high=high, unit="share", letter="ᶜ"),
    )
    for outcome in dict.fromkeys(one.shot.outcome for one in shots):
        listed = [one for one in shots if one.shot.outcome == outcome]
        yield "agreement | li", f"{at.word(outcome)}: {sum(one.agrees for one in listed)} / {len(listed)}"


def colours(records: Sequence[MoldRecord], at: Places) -> Iterator[Line]:
    """Recipes for 100 mL."""
    for name, listed in table("colours").items():
        for one in listed:
            yield f"common | {at.name('colour', name)}", amount(one["amount_per_100_ml"], one["unit"])
    for record in records:
        for colour in record.spec.colours:
            for ingredient in colour.ingredients:
                place = f"own | {colour.name} ({record.spec.title})"
                yield place, amount(ingredient.amount_per_100_ml, ingredient.unit)


def amount(value: float, unit: str) -> Quantity:
    """An ingredient's amount."""
    return exact(value, "count" if unit == "drops" else unit)


def catalogue(records: Sequence[MoldRecord], page: int, pages: int, total: int, at: Places) -> Iterator[Line]:
    """One page of the catalogue."""
    yield at.gap("", "page.catalogue.count", "count"), str(total)
    yield from each(records, lambda record: catalogue_card(record, at))
    yield at.gap("", "page.catalogue.place", "page"), str(page)
    yield at.gap("", "page.catalogue.place", "pages"), str(pages)


def safety(at: Places) -> Iterator[Line]:
    """Every caution with its source."""
    says = {"Shotbook": "own", "common practice": "practice"}
    for key, one in table("safety").items():
        yield from cautions(one["step"], [one["step"]] if one.get("values") else [], "injection", at)
        body = at.say(f"page.safety.{says[one['body']]}") if one["body"] in says else one["body"]
        source = f"{at.say('page.safety.from')}: {body}, {one['title']}"
        source += f", {one['year']}" if one["year"] else ""
        source += "" if one["read"] or one["body"] in says else f" ({at.say('page.safety.memory')})"
        source += f" ({at.say('page.safety.carried')})" if one.get("carried") else ""
        if TELLING.search(source):
            yield f"{one['step']} | li", sourced_sentence(key, source, at)


def sourced_sentence(key: str, source: str, at: Places) -> str:
    """What is left of a caution and its source where the source has a number."""
    said = at.say(f"safety.{key}")
    return source if "{" in said or TELLING.search(said) else f"{said} {source}"


def bench(at: Places) -> Iterator[Line]:
    """The bench before its script runs: baits an hour without their figures."""
    for molds in range(1, 5):
        yield at.gap("", "page.bench.rate", "molds"), str(molds)


def each(records: Sequence[MoldRecord], of: Callable[[MoldRecord], Iterator[Line]]) -> Iterator[Line]:
    """The lines of several molds."""
    for record in records:
        yield from of(record)


def requests(listed: Sequence[Request], at: Places) -> Iterator[Line]:
    """What people asked for."""
    for one in listed:
        yield " | th", f"{one.asked} {one.date}"
        state = at.say(f"release.requests.states.{one.state}")
        yield at.cell("", one.asked, at.say("release.requests.state")), f"{state} {one.note}"
