"""Data for a page's scripts: every figure for every plastisol and mold material, as text.

Scripts choose and place; what they show was written by units, so that no number is worked out in a browser.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from builder.base import figures, serialize, units
from builder.base.texts import Texts
from builder.model import (
    Advice,
    Amounts,
    Figure,
    Finished,
    FlowPath,
    Ingredient,
    Kind,
    MoldRecord,
    Picture,
    ShotTimes,
    Window,
)
from builder.site import data_tables, drawings, plots, public_data, stand_ins
from builder.site.data_tables import Shown, lettered, own_amounts, shown


def mold_data(record: MoldRecord, texts: Texts) -> dict[str, Any]:
    """One mold for the scripts: amounts by plastisol, windows by plastisol and mold material."""
    language = texts.language
    return {
        "slug": record.spec.slug,
        "title": record.spec.title,
        "own": [record.advice.windows[0].plastisol, record.advice.windows[0].mold_material],
        "cavities": record.spec.cavities,
        "kind": record.spec.kind,
        "version": record.spec.version,
        "despite": despite(record, texts),
        "withdrawn": [record.withdrawn.version, record.withdrawn.withdrawn] if record.withdrawn else None,
        "eye": shown(record.advice.eye_mm, language) if record.advice.eye_mm else None,
        "sheet": sheet(record, texts),
        "colours": [
            {"name": colour.name, "ingredients": [ingredient(one, one.what) for one in colour.ingredients]}
            for colour in record.spec.colours
        ],
        "numbers": {amounts.plastisol: numbers(amounts) for amounts in record.advice.amounts},
        "a": {
            one.plastisol: amounts_data(one, figures.largest(record.measurement), language)
            for one in record.advice.amounts
        },
        "w": windows_data(record.advice, texts, record.spec.kind),
        "over": overlays(record.pictures, texts),
        "plots": {"window": window_plot(record, texts), "ways": flow_drawings(record, texts)},
        "names": {
            "plastisol": named("plastisol", (a.plastisol for a in record.advice.amounts), texts),
            "material": named("material", (w.mold_material for w in record.advice.windows), texts),
        },
        "tables": data_tables.tables(record, texts),
        "sentences": sentences(record.advice.windows, texts),
        "origins": {
            letter: texts.say(f"page.origin.{origin}") for origin, letter in data_tables.ORIGINS.items()
        },
        "turn": {
            **{key: texts.say(f"pictures.turn.{key}") for key in texts.under("pictures.turn")},
            "marks": marks(record, texts),
        },
    }


def marks(record: MoldRecord, texts: Texts) -> list[tuple[str, list[float]]]:
    """Where filling is decided, the bait is thinnest, and the next bolt helps most: name, place in mm.

    In the closed mold's frame. Two that are one place have both names.
    """
    mold = record.measurement
    verdict = min(record.advice.windows[0].paths, key=lambda one: one.margin.value, default=None)
    thinnest = mold.baits[figures.largest(mold)].thinnest
    places = (
        ("deciding", verdict and verdict.deciding.at_mm),
        ("thinnest", thinnest and thinnest.at_mm),
        ("next_bolt", record.advice.next_bolt_mm),
    )
    names: dict[tuple[float, ...], list[str]] = {}
    for name, at_mm in places:
        if at_mm:
            place = tuple(round(value, 2) for value in at_mm)
            names.setdefault(place, []).append(texts.say(f"pictures.label.{name}"))
    return [(", ".join(told), list(place)) for place, told in names.items()]


def named(section: str, ids: Iterable[str], texts: Texts) -> list[tuple[str, str]]:
    """Ids, each once and in order, with their names."""
    return [(one, texts.name(section, one)) for one in dict.fromkeys(ids)]


def window_plot(record: MoldRecord, texts: Texts) -> list[drawings.Node]:
    """The drawing of the mold's own window, if there is one."""
    plot = record.advice.windows[0].plot
    return drawings.nodes(plots.window_svg(plot, texts), "window") if plot else []


def sheet(record: MoldRecord, texts: Texts) -> dict[str, Any]:
    """Figures that do not depend on plastisol and mold material, for comparing molds."""
    language, measured = texts.language, record.measurement
    bed = [max(part.bed_mm[side] for part in measured.parts) for side in (0, 1)]
    return {
        "kind": texts.word(record.spec.kind),
        "type": record.spec.bait_type or "–",
        "target": ", ".join(record.spec.target) or "–",
        "material": texts.name("material", record.advice.windows[0].mold_material),
        "plastisol": texts.name("plastisol", record.advice.windows[0].plastisol),
        "bolts": len(measured.bolts),
        "bed": units.sides(bed, language),
        **{name: shown(figure, language) for name, figure in record.advice.figures.items()},
    }


def numbers(amounts: Amounts) -> dict[str, list[float]]:
    """Numbers that the bench page multiplies: one shot with and without spare."""
    one = amounts.batch[0]
    shot = {"one_ml": one.heat_ml, "one_g": one.heat_g, "shot_g": amounts.shot_g}
    return {name: [figure.value, figure.low, figure.high] for name, figure in shot.items()}


def colours_data(colours: Mapping[str, Sequence[Ingredient]], texts: Texts) -> dict[str, Any]:
    """The recipes to start from, named in the page's language."""
    return {
        name: {
            "name": texts.name("colour", name),
            "ingredients": [ingredient(one, texts.name("ingredient", one.what)) for one in ingredients],
        }
        for name, ingredients in colours.items()
    }


def ingredient(one: Ingredient, what: str) -> dict[str, Any]:
    """An ingredient by this name, with whether it is salt or flake, which sink in the cup."""
    return {**serialize.to_json(one), "what": what, "grain": one.grain}


def overlays(pictures: Iterable[Picture], texts: Texts) -> dict[str, Any]:
    """Overlay data of each picture by name."""
    return {p.name: overlay_data(p, texts) for p in pictures if p.overlay_svg or p.labels}


def overlay_data(picture: Picture, texts: Texts) -> dict[str, Any]:
    """What is written over a picture: its size, its lines and marks, and the words with their places."""
    return {
        "size": [picture.width_px, picture.height_px],
        "marks": drawings.nodes(picture.overlay_svg or "", picture.name),
        "words": [
            [
                texts.say(label.name) if label.name else "",
                short(label.figure, texts.language) if label.figure else [],
                round(label.x_px),
                round(label.y_px),
                label.align,
            ]
            for label in picture.labels
        ],
    }


def short(figure: Figure, language: str) -> Shown:
    """The figure's texts with empty ranges, where the range stands elsewhere."""
    return [text if index % 2 == 0 else "" for index, text in enumerate(shown(figure, language))]


def flow_drawings(record: MoldRecord, texts: Texts) -> list[drawings.Node]:
    """A drawing for each end of a bait: of baits that are alike, the way with the least margin."""
    verdicts = {verdict.path: verdict for verdict in record.advice.windows[0].paths}
    paths = [path for bait in record.measurement.baits for path in bait.paths]
    ends: dict[str, FlowPath] = {}
    for path in sorted(
        paths, key=lambda p: verdicts[p.name].margin.value if p.name in verdicts else math.inf
    ):
        ends.setdefault(path.name.lstrip("0123456789"), path)
    return [
        node
        for path in ends.values()
        for node in drawings.nodes(
            plots.path_svg(path, texts, verdicts[path.name].deciding if path.name in verdicts else None),
            path.name,
        )
    ]


def amounts_data(amounts: Amounts, largest: int, language: str) -> dict[str, Any]:
    """The figures that follow the plastisol; `largest` is the index of the bait that stands for the mold."""
    return {
        "bait_g": [shown(figure, language) for figure in amounts.bait_g],
        "largest_g": shown(amounts.bait_g[largest], language),
        "hand": {name: shown(figure, language) for name, figure in amounts.hand.items()},
        "grain": "salt" if amounts.salted else None,
        "finished": finished_data(amounts.finished[largest], language) if amounts.finished else {},
        "shot_ml": shown(amounts.shot_ml, language),
        "shot_g": shown(amounts.shot_g, language),
        "one_ml": shown(amounts.batch[0].heat_ml, language),
        "shots": [row.shots for row in amounts.batch],
        "batch": [[shown(row.heat_ml, language), shown(row.heat_g, language)] for row in amounts.batch],
    }


def finished_data(bait: Finished, language: str) -> dict[str, Any]:
    """The cold bait that stands for the mold, by name."""
    return {name: shown(figure, language) for name, figure in figures.finished(bait).items()}


def windows_data(advice: Advice, texts: Texts, kind: Kind) -> dict[str, dict[str, Any]]:
    """The figures that follow plastisol and mold material."""
    found: dict[str, dict[str, Any]] = {}
    for window in advice.windows:
        found.setdefault(window.plastisol, {})[window.mold_material] = window_data(window, texts, kind)
    return found


def window_data(window: Window, texts: Texts, kind: Kind) -> dict[str, Any]:
    """One window: its figures, what is found, what may go wrong, and the times that a clock counts down.

    No pressure is kept on an open pour, so it has no time to hold.
    Only the plastisol's limit has its letter here: a maker may have declared the one of his own.
    """
    told: Mapping[str, Figure | None] = {
        "point": window.shoot_c,
        "fill": window.fill_c,
        "mold_limit": window.mold_limit_c,
        "hold": window.hold_s if kind == "injection" else None,
        "cool": window.cool_s,
        "cool_later": window.times[-1].open_s,
        "cold": window.cold_s,
        "rest": window.rest_s,
    }
    return {
        **{
            name: _shown_or(figure, stand_ins.of_window(window, name, texts), texts)
            for name, figure in told.items()
        },
        "plastisol_limit": lettered(window.plastisol_limit_c, texts.language),
        "hold_seconds": units.countdown_s(window.hold_s.value),
        "times": [times_data(row, window, texts) for row in window.times],
        "plans": [shown(plan.baits_per_h, texts.language) for plan in window.plans],
        "stop": data_tables.sentence(texts, stop.code, **stop.values) if (stop := window.stop) else None,
        "findings": [[one.level, one.code, values(one.values, texts)] for one in window.findings],
        "troubles": [
            [
                lettered(one.chance, texts.language),
                one.code,
                values(one.values, texts),
                stand_ins.chance(one.chance, texts),
            ]
            for one in window.troubles
        ],
    }


def times_data(row: ShotTimes, window: Window, texts: Texts) -> dict[str, Any]:
    """The times of one shot: with the advised rests and without, as texts, and as seconds for a clock."""
    language = texts.language
    rest = stand_ins.rest(row.rest_s, window.no_rest, texts)
    waits = [row.open_s, row.hurried_s]
    return {
        "shot": row.shot,
        "open": shown(row.open_s, language),
        "hurried": shown(row.hurried_s, language),
        "cold": shown(row.cold_s, language),
        "rest": _shown_or(row.rest_s, rest, texts),
        "seconds": [units.countdown_s(f.value) if f else 0 for f in (*waits, row.rest_s)],
    }


def _shown_or(figure: Figure | None, instead: str, texts: Texts) -> Shown | None:
    """A figure's texts, or as a single one the words that are told in its place."""
    if instead:
        return [instead]
    return shown(figure, texts.language) if figure else None


def values(given: Mapping[str, Figure | str], texts: Texts) -> dict[str, data_tables.Part]:
    """What a sentence of `sentences` is filled with, by name."""
    return {
        name: lettered(value, texts.language) if isinstance(value, Figure) else texts.word(value)
        for name, value in given.items()
    }


def sentences(windows: Sequence[Window], texts: Texts) -> dict[str, str]:
    """The sentences of all findings and troubles, each once, with names in braces where values go."""
    codes = {finding.code for window in windows for finding in window.findings}
    troubles = {trouble.code for window in windows for trouble in window.troubles}
    wanted = codes | troubles | {f"{code}_cure" for code in troubles}
    return {code: texts.entries[code] for code in sorted(wanted)}


def index_entry(record: MoldRecord, texts: Texts) -> dict[str, Any]:
    """One mold for the catalogue's filters and cards."""
    spec, measured, own = record.spec, record.measurement, record.advice.windows[0]
    amounts = own_amounts(record)
    works = dict.fromkeys(w.mold_material for w in record.advice.windows if w.shoot_c)
    largest = figures.largest(measured)
    length, weight = figures.measured(measured)[f"bait.{largest}.length"], amounts.bait_g[largest]
    facts = [length, weight, amounts.shot_ml, own.shoot_c]
    return {
        "slug": spec.slug,
        "title": spec.title,
        "type": spec.bait_type,
        "poured": measured.kind != "injection",
        "target": list(spec.target),
        "by": card_line(record, texts),
        "stop": card_stop(record, texts),
        "summary": spec.summary,
        "cavities": spec.cavities,
        "length": round(length.value, 1),
        "weight": round(weight.value, 2),
        "shot": round(amounts.shot_ml.value, 1),
        "bed": [round(max(p.bed_mm[side] for p in measured.parts)) for side in (0, 1)],
        "works": list(works),
        "picture": card_picture(record),
        "version": spec.version,
        "withdrawn": record.withdrawn.withdrawn if record.withdrawn else "",
        "facts": [
            *(short(figure, texts.language) if figure else None for figure in facts),
            [str(spec.cavities), ""],
        ],
    }


def card_line(record: MoldRecord, texts: Texts) -> str:
    """What stands under a mold's name in the catalogue; of several sizes it says which the numbers are of."""
    said = [record.spec.bait_type or texts.word(record.spec.kind)]
    if record.spec.author:
        said.append(texts.say("page.catalogue.by", author=record.spec.author))
    if (count := len(figures.kinds(record.measurement))) > 1:
        said.append(texts.say("page.catalogue.sizes", count=count))
    return " · ".join(said)


def card_stop(record: MoldRecord, texts: Texts) -> str:
    """What the catalogue says before anything else of a mold that must not be shot; "" when it may be."""
    if record.stop is None:
        return ""
    own = record.advice.windows[0]
    said = texts.say("stop.card", plastisol=own.plastisol, mold_material=own.mold_material)
    return f"{said} {despite(record, texts)}".strip()


def despite(record: MoldRecord, texts: Texts) -> str:
    """Why it was released although it must not be shot, as a sentence; "" when it was not."""
    return texts.say("stop.despite", reason=record.despite) if record.despite else ""


def card_picture(record: MoldRecord) -> tuple[str, int, int] | None:
    """First photo, or the bait, or an open mold's cavities, at its smallest: file, width, height in px."""
    wanted = "open" if record.spec.kind == "open pour" else "bait"
    drawn = (picture for picture in record.pictures if picture.name == wanted)
    picture = next(iter((*record.photos, *drawn)), None)
    if picture is None:
        return None
    width = min(picture.files)
    return picture.files[width], width, round(width * picture.height_px / picture.width_px)


def script(call: str, data: object) -> str:
    """A script that hands the data over when it is loaded, which also works where nothing may be fetched.

    >>> script("shotbook.mold", {"a": "</script>"})
    'shotbook.mold({"a":"\\\\u003c/script\\\\u003e"});\\n'
    """
    return f"{call}({public_data.in_script(data)});\n"
