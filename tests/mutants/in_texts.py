"""Faults in the texts that travel with a release, and in the terminal's report."""

from __future__ import annotations

from tests.mutants import in_file

MUTANTS = (
    *in_file(
        "builder/release/leaflet.py",
        ('"shoot", "hold", "cool", "print_volume")', '"fill", "hold", "cool", "print_volume")', "lower limit for the temperature to shoot at"),
        ("texts.say(\"release.value\", value=version.figures[name])", "texts.say(\"release.value\", value=version.figures[\"shot\"])", "one number for all"),
        ("for figure in (change.before, change.after)", "for figure in (change.after, change.before)", "before and now changed over"),
        ("\"release.heading\", title=version.title, version=version.version", "\"release.heading\", title=version.title, version=version.order", "the order for the version"),
    ),
    *in_file(
        "builder/release/compare.py",
        ('"bait_length": _length(bait.length_mm, m)', '"bait_length": _length(bait.height_mm, m)', "height for length"),
        ('"bait_volume": _volume(bait.volume_ml, m)', '"bait_volume": amounts.shot_ml', "a shot's volume for a bait's"),
        ('"bait_weight": amounts.bait_g[0]', '"bait_weight": amounts.shot_g', "a shot's weight for a bait's"),
        ('"shot": amounts.shot_ml', '"shot": amounts.batch[0].heat_ml', "spare included"),
        ('"fill": own.fill_c', '"fill": own.mold_limit_c', "upper limit for the lower one"),
        ('"hold": own.hold_s', '"hold": own.cool_s', "opening time for the hold"),
        ('"cool": own.cool_s', '"cool": own.rest_s', "rest for the time to open"),
        ('"shoot": own.shoot_c', '"shoot": own.fill_c', "lower limit for the temperature to shoot at"),
        ("limit = min(", "limit = max(", "the higher of both limits"),
        ("_length(min(thinnest), m)", "_length(max(thinnest), m)", "the thickest of the thinnest"),
        ('if part.role != "bait"), m)', 'if part.name == m.parts[0].name), m)', "one part's volume for all"),
        ("_read(value_mm, m.length_error_mm", "_read(value_mm, m.pitch_mm", "pitch for the error"),
        ("m.volume_share * value_ml", "m.volume_share", "a share for a volume's error"),
        ("        high=value + off,\n", "        high=value,\n", "half a range"),
        ("_counted(len(m.baits))", "_counted(len(m.parts) + 1)", "parts for baits"),
    ),
    *in_file(
        "builder/cli/report.py",
        ('"height": bait.height_mm, "width": bait.width_mm', '"height": bait.width_mm, "width": bait.height_mm', "height and width changed over"),
        ('"length": bait.length_mm', '"length": bait.area_mm2 / 100', "area for length"),
        ('"volume": _volume(bait.volume_ml, measured), "weight"', '"volume": _volume(measured.baits[0].volume_ml, measured), "weight"', "one volume for all baits"),
        ("_count(len(bait.sockets))", "_count(len(bait.gates))", "gates for eye sockets"),
        ("_length(bait.sockets[0].diameter_mm", "_length(bait.sockets[0].depth_mm", "a socket's depth for its diameter"),
        ("_length(sprue.mouth_diameter_mm", "_length(sprue.modulus_mm", "modulus for the sprue's mouth"),
        ("_volume(measured.runner.volume_ml", "_volume(sprue.volume_ml", "the sprue's volume for the runner's"),
        ("[vent.depth_mm for", "[vent.width_mm for", "a vent's width for its depth"),
        ("[bolt.diameter_mm for", "[bolt.length_mm for", "a bolt's length for its hole"),
        ("[pin.clearance_mm for", "[pin.diameter_mm for", "a pin's diameter for its clearance"),
        ('("hold", own.hold_s)', '("hold", own.cool_s)', "opening time for the hold"),
        ('("rest", own.rest_s)', '("rest", own.cool_s)', "time to open for the rest"),
        ('("shoot", own.shoot_c)', '("shoot", own.shoot_c and own.fill_c)', "lower limit for the temperature to shoot at"),
        ("return own.shot_ml, own.bait_g", "return own.shot_g, own.bait_g", "weight for volume"),
        ("_volume(part.volume_ml, measured)", "_volume(part.vouch.volume_ml, measured)", "the file's volume for the part's"),
        ("max(0.0, min(values) - error), max(values) + error", "max(0.0, min(values)), max(values)", "a range without its error"),
        ("max(0.0, value - measured.length_error_mm), value + measured.length_error_mm", "max(0.0, value - measured.length_error_mm), value", "half a range"),
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
