"""Faults in templates."""

from __future__ import annotations

from tests.mutants import in_file

MOLD = in_file(
    "builder/templates/mold.md.jinja",
    ('hold=keyed(own.hold_s, "w.hold")', 'hold=keyed(own.cool_s, "w.hold")', "opening time for the hold"),
    ('hold=keyed(own.hold_s, "w.hold")', 'hold=keyed(own.rest_s, "w.rest")', "rest for the hold, with its key"),
    ('cool=keyed(own.cool_s, "w.cool")', 'cool=keyed(own.hold_s, "w.cool")', "hold for the time to open"),
    ('rest=keyed(own.rest_s, "w.rest")', 'rest=keyed(own.cool_s, "w.rest")', "time to open for the rest"),
    ('rest=keyed(own.rest_s, "w.rest")', 'rest=keyed(own.rest_s, "w.cool")', "a choice puts another time here"),
    ("limit=keyed(own.plastisol_limit_c", "limit=keyed(own.mold_limit_c", "the mold's limit for the plastisol's"),
    ("limit=keyed(own.plastisol_limit_c", "limit=keyed(own.fill_c", "lower limit for the upper one"),
    ("heat=keyed(one_shot.heat_ml", "heat=keyed(one_shot.heat_g", "grams for millilitres"),
    ("heat=keyed(one_shot.heat_ml", "heat=keyed(amounts.shot_ml", "a shot without its spare"),
    ("heat=keyed(one_shot.heat_ml", "heat=keyed(amounts.batch[2].heat_ml", "two shots for one"),
    ("baits=spec.cavities, heat", "baits=m.bolts|length, heat", "bolts for baits"),
    ('shot=keyed(amounts.shot_ml, "a.shot_ml")', 'shot=keyed(amounts.shot_g, "a.shot_ml")', "weight for volume"),
    (
        'step_shoot", shoot=keyed(own.shoot_c or own.fill_c, "w.point")',
        'step_shoot", shoot=keyed(own.fill_c, "w.point")',
        "the coldest temperature that fills for the one to shoot at",
    ),
    (
        'step_pour", shoot=keyed(own.shoot_c or own.fill_c, "w.point")',
        'step_pour", shoot=keyed(own.plastisol_limit_c, "w.point")',
        "the limit for the temperature to pour at",
    ),
    ("point(bait.length_mm", "point(bait.height_mm", "height for length"),
    ('point(bait.volume_ml, "ml")', 'point(bait.volume_ml, "g")', "grams for millilitres"),
    ('point(baits[0][1].volume_ml, "ml")', 'point(baits[0][1].area_mm2, "ml")', "area for volume"),
    ("<td>{{ num(weight, key) }}</td>", '<td>{{ num(amounts.bait_g[0], "a.bait_g.0") }}</td>', "one weight for all"),
    ("<td>{{ num(weight, key) }}</td>", "<td>{{ bare(weight, key) }}</td>", "no origin"),
    ("{{ count }} ×</th>", "{{ baits|length }} ×</th>", "kinds of bait for their number"),
    (
        '("mold_limit", own.mold_limit_c), ("plastisol_limit", own.plastisol_limit_c)',
        '("mold_limit", own.plastisol_limit_c), ("plastisol_limit", own.mold_limit_c)',
        "both limits changed over",
    ),
    ('("fill", own.fill_c)', '("fill", own.mold_limit_c)', "upper limit for the lower one"),
    (
        'diameter=measured(bolt.diameter_mm, "mm"), length=measured(bolt.length_mm, "mm")',
        'diameter=measured(bolt.length_mm, "mm"), length=measured(bolt.diameter_mm, "mm")',
        "bolt's length and hole changed over",
    ),
    ("page.bolt.count\", count=count", "page.bolt.count\", count=bolts|length", "kinds of bolt for their number"),
    ("clearance=measured(pin.clearance_mm", "clearance=measured(pin.length_mm", "a pin's length for its clearance"),
    ("diameter=measured(pin.diameter_mm", "diameter=measured(pin.clearance_mm", "clearance for the pin's diameter"),
    ("eye=r.advice.eye_mm)", 'eye=measured(m.baits[0].sockets[0].diameter_mm, "mm"))', "socket for the eye"),
    ("volume=share(m.volume_share)", "volume=share(m.length_error_mm)", "lengths' error for volumes'"),
    ("length=measured(m.length_error_mm", "length=measured(m.pitch_mm", "pitch of the reading for its error"),
    ("{{ size(d.size_bytes) }}", "{{ size(r.downloads[0].size_bytes) }}", "one size for all files"),
    ("<code>{{ d.sha256 }}</code>", "<code>{{ r.downloads[0].sha256 }}</code>", "one digest for all files"),
    ("{{ size(v.downloads[0].size_bytes) }}", "{{ size(r.downloads[0].size_bytes) }}", "a part's size for the zip's"),
    ("{{ v.version }}</a> · {{ v.date }}", "{{ v.version }}</a> · {{ r.versions[0].date }}", "one day for all"),
    ("{{ num(f) }}{{", "{{ num(figures[0]) }}{{", "bed as deep as it is wide"),
    ('num(figure, key) }}</dd></div>\n{% endfor %}\n</dl>\n<p class="sb-actions">', 'num(figure) }}</dd></div>\n{% endfor %}\n</dl>\n<p class="sb-actions">', "a choice leaves the old number"),
)  # fmt: skip

CARD = in_file(
    "builder/templates/card.html.jinja",
    ("alone and own.hold_s", "alone and own.cool_s", "opening time for the hold"),
    ("alone and own.cool_s", "alone and own.rest_s", "rest for the time to open"),
    ("alone and own.rest_s", "alone and own.hold_s", "hold for the rest"),
    ("alone and own.plastisol_limit_c", "alone and own.mold_limit_c", "the mold's limit for the plastisol's"),
    ("(own.shoot_c or own.fill_c)", "(own.fill_c or own.shoot_c)", "lower limit for the temperature to shoot at"),
    ("{{ bare(row.heat_ml) }}</td><td>{{ bare(row.heat_g) }}", "{{ bare(row.heat_g) }}</td><td>{{ bare(row.heat_ml) }}", "volume and weight changed over"),
    ("{{ row.baits }}</th>", "{{ row.shots }}</th>", "shots for baits"),
    ("{{ spec.cavities if alone }}", "{{ spec.parts|length if alone }}", "parts for baits"),
    ("alone and eye,", 'alone and (eye and measured(eye.value / 2, "mm")),', "an eye's radius for its diameter"),
    ('own.cool_s, "w.cool")', 'own.cool_s, "w.rest")', "on the site the rest for the time to open"),
    ('own.plastisol_limit_c, "w.plastisol_limit")', 'own.plastisol_limit_c, "w.mold_limit")', "on the site the mold's limit"),
)  # fmt: skip

OTHERS = (
    *in_file(
        "builder/templates/macros.jinja",
        ("num(figure or own.fill_c,", "num(own.fill_c or figure,", "lower limit for the temperature to shoot at"),
    ),
    *in_file(
        "builder/templates/version.md.jinja",
        ("{{ num(change.before) if change.before", "{{ num(change.after) if change.before", "now for before"),
        ("{{ num(change.after) if change.after", "{{ num(change.before) if change.before", "before for now"),
        ("<dd>{{ num(figure) }}</dd>", "<dd>{{ num(v.figures.bait_weight) }}</dd>", "one number for all"),
        ("<dd>{{ num(figure) }}</dd>", "<dd>{{ bare(figure) }}</dd>", "no origin"),
        ('say("release.page.newer", version=newer.version)', 'say("release.page.newer", version=v.version)', "its own version for the newer one"),
        ("{{ size(d.size_bytes) }}", "{{ d.size_bytes }}", "bytes without a unit"),
    ),
    *in_file(
        "builder/templates/index.md.jinja",
        ("count=total", "count=cards|length", "molds of this page for all"),
        ("page=page, pages=pages", "page=pages, pages=page", "page and pages changed over"),
    ),
    *in_file(
        "builder/templates/materials.md.jinja",
        ("rows(t.values, ", "rows(tables.mold_materials[0].values, ", "one material's values for all"),
        ("{{ table_value(eye) }}", "{{ table_value(tables.eyes_mm[0]) }}", "one eye for all"),
    ),
    *in_file(
        "builder/templates/method.md.jinja",
        ("<td>{{ digits(c.check.expected, c.check.unit) }}</td>", "<td>{{ digits(c.check.tolerance, c.check.unit) }}</td>", "tolerance for the published value"),
        ("{{ digits(c.computed, c.check.unit) }}", '{{ digits(c.computed, "mm") }}', "mm for every unit"),
        ("agreed=agreement.agreed, shots=agreement.shots", "agreed=agreement.shots, shots=agreement.agreed", "hits and shots changed over"),
        ("digits(m.volume_ml, ", "digits(m.volume_ml * 10, ", "ten times the volume"),
        ("{{ kinds.get(kind, 0) }}", "{{ molds }}", "all molds for those with the feature"),
    ),
    *in_file(
        "builder/templates/bench.md.jinja",
        ('("limit", "w.plastisol_limit")', '("limit", "w.mold_limit")', "the mold's limit for the plastisol's"),
        ('("shoot", "w.point")', '("shoot", "w.fill")', "lower limit for the temperature to shoot at"),
        ('<p data-n="w.{{ name }}"></p>', '<p data-n="w.hold"></p>', "one time for all clocks"),
        ('data-b="heat_ml"></dd>', 'data-b="heat_g"></dd>', "weight for volume"),
        ('data-b="fresh_ml"', 'data-b="remelt_ml"', "remelt for fresh plastisol"),
        ('value="12"', 'value="10"', "ten baits at first"),
        ('<option value="{{ s }}">{{ s }} %</option>{% endfor %}</select></label>\n<label class="sb-field">{{ say("page.bench.remelt") }}', '<option value="{{ s }}">{{ s * 10 }} %</option>{% endfor %}</select></label>\n<label class="sb-field">{{ say("page.bench.remelt") }}', "ten times the spare"),
    ),
)  # fmt: skip
MUTANTS = (*MOLD, *CARD, *OTHERS)
