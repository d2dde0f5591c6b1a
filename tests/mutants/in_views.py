"""Faults in the functions that prepare a page's values, and where numbers become text."""

from __future__ import annotations

from tests.mutants import in_file

MUTANTS = (
    *in_file(
        "builder/site/pages/mold.py",
        ('declared(record.spec.cavities, "count")', 'measured(record.spec.cavities, "count")', "another origin"),
        ("baits=record.spec.cavities", "baits=len(record.measurement.parts) + 1", "wrong count, for searches"),
        ("CARD_SHOTS = (1, 2, 3, 5, 10)", "CARD_SHOTS = (1, 2, 3, 4, 10)", "other shots on the card"),
        ("shots * cavities for", "shots + cavities for", "broken shots on the card"),
    ),
    *in_file(
        "builder/site/pages/html.py",
        ('say(f"page.origin.{figure.origin}")', 'say("page.origin.computed")', "one origin for all"),
        ("declared(ingredient.amount_per_100_ml, unit)", "declared(ingredient.amount_per_100_ml / 10, unit)", "a tenth of the colour"),
        ('"count" if ingredient.unit == "drops" else ingredient.unit', '"count" if ingredient.unit == "drops" else "g"', "grams for millilitres"),
        ('" · ".join(texts[::2])', '" · ".join(texts[:1])', "one system in the catalogue"),
    ),
    *in_file(
        "builder/site/pages/collection.py",
        ('("page.compare.weight", "a.largest_g")', '("page.compare.weight", "a.shot_g")', "a shot's weight, compared"),
        ('("page.compare.weight", "a.largest_g")', '("page.compare.weight", "a.bait_g.0")', "the first bait's weight, compared"),
        ('("page.compare.length", "sheet.bait_length")', '("page.compare.length", "sheet.thinnest")', "thinnest for the length, compared"),
        ('("page.glance.rest", "w.rest")', '("page.glance.rest", "w.hold")', "hold for the rest, compared"),
        ('build.made_by(build.tables_digest(tables))', 'build.made_by("0" * 64)', "made-up tables"),
        ('("page.glance.cool", "w.cool")', '("page.glance.cool", "w.rest")', "rest for the time to open, compared"),
        ('("page.glance.hold", "w.hold")', '("page.glance.hold", "w.cool")', "time to open for the hold, compared"),
        ('("page.window.mold_limit", "w.mold_limit")', '("page.window.mold_limit", "w.plastisol_limit")', "the plastisol's limit, compared"),
        ('("page.window.fill", "w.fill")', '("page.window.fill", "w.point")', "shooting for filling, compared"),
        ('("page.glance.shot", "a.shot_ml")', '("page.glance.shot", "a.one_ml")', "spare included, compared"),
        ('("figure.thinnest", "sheet.thinnest")', '("figure.thinnest", "sheet.bait_length")', "length for the thinnest, compared"),
        ('CARD_FACTS = ("length", "weight", "shot"', 'CARD_FACTS = ("weight", "length", "shot"', "labels of the catalogue changed over"),
        ('"hot": (170.0, "c")', '"hot": (145.0, "c")', "the second filling's temperature for the first's"),
        ('"mild": (145.0, "c")', '"mild": (170.0, "c")', "the first filling's temperature for the second's"),
        ('"above": (15.0, "k")', '"above": (15.0, "c")', "a temperature for a difference"),
        ('"tick": (5.0, "mm")', '"tick": (10.0, "mm")', "every second mark of the ladder"),
        ('"page.ladder.because", "common practice"', '"page.ladder.because", "computed"', "the ladder's temperatures as if computed"),
        ("folder=f\"v{version.version}\"", "folder=f\"v{newest.version}\"", "links to another version's files"),
    ),
    *in_file(
        "builder/base/units.py",
        ("ML_PER_FL_OZ = 29.5735295625", "ML_PER_FL_OZ = 28.4130625", "imperial fluid ounces"),
        ("G_PER_OZ = 28.349523125", "G_PER_OZ = 31.1034768", "troy ounces"),
        ("MM_PER_INCH = 25.4\n", "MM_PER_INCH = 25.0\n", "rough inches"),
        ('"c": (1.8, 32.0, "°F")', '"c": (1.8, 30.0, "°F")', "another zero of °F"),
        ("LBF_PER_N = 0.22480894", "LBF_PER_N = 0.2", "rough pounds"),
        ("PSI_PER_MPA = 145.0377377", "PSI_PER_MPA = 14.50377377", "a tenth of the psi"),
        ('"mm2": (1 / MM_PER_INCH**2', '"mm2": (1 / MM_PER_INCH', "inches for square inches"),
        ('    "g": "g",\n', '    "g": "mL",\n', "millilitres behind grams"),
        ("triple[0] * 100, triple[1] * 100", "triple[0] * 100, triple[1]", "shares for percent at the lower end"),
        ('f"{low}–{high}"\n    return Shown(value=_with', 'f"{high}–{low}"\n    return Shown(value=_with', "range upside down"),
        ("2 if wide else 3", "1 if wide else 2", "a digit too few"),
        ('divmod(round(seconds / 5) * 5, 60)', 'divmod(round(seconds / 5) * 5, 100)', "minutes of a hundred seconds"),
        ("minutes = round(seconds / 60)", "minutes = round(seconds / 50)", "minutes of fifty seconds"),
        ("    if seconds < 89.5 or", "    if seconds < 200 or", "seconds where minutes belong"),
        ("number = size_bytes / step", "number = size_bytes / step * 1.024", "other megabytes"),
    ),
)  # fmt: skip
