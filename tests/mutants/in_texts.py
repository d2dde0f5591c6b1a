"""Faults in the texts that travel with a release, and in the terminal's report."""

from __future__ import annotations

from tests.mutants import in_file

MUTANTS = (
    *in_file(
        "builder/release/leaflet.py",
        ('    "bait_weight_largest",\n', "", "no weight of the largest bait in a post"),
        ("told = [texts.say(\"stop.head\"), texts.finding(version.stop)]", "told = [texts.say(\"stop.head\")]", "no limit in a stop"),
        ("for one in version.findings if one.level", "for one in version.findings[:1] if one.level", "one warning for all"),
        ("texts.say(\"release.value\", value=version.figures[name])", "texts.say(\"release.value\", value=version.figures[\"shot\"])", "one number for all"),
        ("for figure in (change.before, change.after)", "for figure in (change.after, change.before)", "before and now changed over"),
        ("\"release.heading\", title=version.title, version=version.version", "\"release.heading\", title=version.title, version=version.order", "the order for the version"),
    ),
    *in_file(
        "builder/cli/report.py",
        ('"low": line.figure.low', '"low": line.figure.value', "half a range in the plain values"),
        ('"bolts": len(measured.bolts)', '"bolts": len(measured.pins)', "pins for bolts"),
        ("        both.metric.range,\n        american", "        both.us.range,\n        american", "the US range behind the metric value"),
        ('f"page.origin.{line.figure.origin}"', '"page.origin.measured"', "one origin for all"),
    ),
    *in_file(
        "builder/release/bundle.py",
        ('told["SHA256SUMS"] = formats.checksums(told)', 'told["SHA256SUMS"] = formats.checksums(files)', "files without a sum"),
    ),
)  # fmt: skip
