"""Faults in templates."""

from __future__ import annotations

from tests.mutants import in_file

MOLD = in_file(
    "builder/templates/mold.md.jinja",
    ('hold=keyed(own.hold_s, "w.hold")', 'hold=keyed(own.cool_s, "w.hold")', "opening time for the hold"),
    ('hold=keyed(own.hold_s, "w.hold")', 'hold=keyed(own.rest_s, "w.rest")', "rest for the hold, with its key"),
    ('cool=keyed(own.cool_s, "w.cool")', 'cool=keyed(own.hold_s, "w.cool")', "hold for the time to open"),
    ("step_limit\", limit=keyed(own.plastisol_limit_c", "step_limit\", limit=keyed(own.mold_limit_c", "the mold's limit for the plastisol's"),
    ("step_limit\", limit=keyed(own.plastisol_limit_c", "step_limit\", limit=keyed(own.fill_c", "lower limit for the upper one"),
    ("heat=keyed(one_shot.heat_ml", "heat=keyed(one_shot.heat_g", "grams for millilitres"),
    ("heat=keyed(one_shot.heat_ml", "heat=keyed(amounts.shot_ml", "a shot without its spare"),
    ("heat=keyed(one_shot.heat_ml", "heat=keyed(amounts.batch[2].heat_ml", "two shots for one"),
    ("baits=spec.cavities, heat", "baits=m.bolts|length, heat", "bolts for baits"),
    ('shot=keyed(amounts.shot_ml, "a.shot_ml")', 'shot=keyed(amounts.shot_g, "a.shot_ml")', "weight for volume"),
    ("eye=r.advice.eye_mm)", 'eye=measured(m.baits[0].sockets[0].diameter_mm, "mm"))', "socket for the eye"),
    ("{{ size(d.size_bytes) }}</li>", "{{ size(r.downloads[0].size_bytes) }}</li>", "one size for all files"),
    ("{{ size(v.downloads[0].size_bytes) }}", "{{ size(r.downloads[0].size_bytes) }}", "a part's size for the zip's"),
    ("{{ v.version }}</a> · {{ v.date }}", "{{ v.version }}</a> · {{ r.versions[0].date }}", "one day for all"),
    ('num(one_shot.heat_ml, "a.one_ml") }}</dd>', 'num(one_shot.heat_ml) }}</dd>', "a choice leaves the old number"),
    ('num(one_shot.heat_ml, "a.one_ml") }}</dd>', 'num(amounts.shot_ml, "a.shot_ml") }}</dd>', "what the injector holds for what is measured cold"),
    ('num(own.hold_s, "w.hold") }}</dd>', 'num(own.cool_s, "w.cool") }}</dd>', "time to open for the hold at the top"),
    ('cool=keyed(own.times[-1].open_s, "w.cool_later")', 'cool=keyed(own.times[-1].hurried_s, "w.cool_later")', "hurried times for later shots"),
    ('page.glance.never", limit=keyed(own.plastisol_limit_c', 'page.glance.never", limit=keyed(own.mold_limit_c', "the mold's limit never to be passed"),
    ('"page.glance.later", cool=keyed(own.times[-1].open_s, "w.cool_later")', '"page.glance.later", cool=keyed(own.times[0].open_s, "w.cool_later")', "the first shot's time for the later ones"),
    ('num(own.cool_s, "w.cool") }}</dd>', 'num(own.cool_s, "w.cool_later") }}</dd>', "a choice puts the later shots' time here"),
    ("{% for word, trouble in troubles[:3] %}", "{% for word, trouble in troubles[1:3] %}", "the likeliest fault left out"),
)  # fmt: skip

NEW = (
    *in_file(
        "builder/templates/mold.md.jinja",
        ("rest=told.rest)", "rest=told.fill)", "lower limit for the rest"),
        ('step_shoot", shoot=told.point)', 'step_shoot", shoot=told.plastisol_limit)', "the limit for the temperature to shoot at"),
        ('step_pour", shoot=told.point)', 'step_pour", shoot=told.fill)', "lower limit for the temperature to pour at"),
        ("{{ x.stop_first(stop, despite) }}", "", "no stop where it must not be shot"),
        ("{% if v.stop or drifts[v.version].stop %}", "{% if v.stop %}", "no stop of today's numbers in the list of versions"),
    ),
    *in_file(
        "builder/templates/mold_parts.jinja",
        ("<td>{{ num(weight, key) }}</td>", '<td>{{ num(amounts.bait_g[0], "a.bait_g.0") }}</td>', "one weight for all"),
        ("<td>{{ num(weight, key) }}</td>", "<td>{{ bare(weight, key) }}</td>", "no origin"),
        ("{{ count }} ×</th>", "{{ baits|length }} ×</th>", "kinds of bait for their number"),
        ("page.bolt.count\", count=count", "page.bolt.count\", count=bolts|length", "kinds of bolt for their number"),
        ("<code>{{ d.sha256 }}</code>", "<code>{{ r.downloads[0].sha256 }}</code>", "one digest for all files"),
        ("{{ num(f) }}{{", "{{ num(figures[0]) }}{{", "bed as deep as it is wide"),
        ("<td>{{ num(length) }}</td><td>{{ num(volume) }}</td>", "<td>{{ num(volume) }}</td><td>{{ num(length) }}</td>", "length and volume changed over"),
        ("<dd>{{ num(baits[0][2]) }}</dd>", "<dd>{{ num(baits[0][1]) }}</dd>", "length for volume"),
        ("diameter=diameter, length=length)", "diameter=length, length=diameter)", "bolt's length and hole changed over"),
        ("diameter=sizes[0], clearance=sizes[1])", "diameter=sizes[1], clearance=sizes[0])", "pin's diameter and clearance changed over"),
        ("volume=read.volume_share, length=read.length_error", "volume=read.length_error, length=read.volume_share", "both errors changed over"),
        ("else placed(told[name]) }}", "else placed(told.fill) }}", "one limit for all"),
        ('("number" ~ end, "gently" ~ end, "cold", "rest_after", "hurried" ~ end)', '("number" ~ end, "gently" ~ end, "cold", "hurried" ~ end, "rest_after")', "columns of the times changed over"),
        ("{{ placed(cell) }}", "{{ placed(cells[0]) }}", "one time for all columns"),
        ('<tr><th scope="row">{{ number }}</th>{% for cell', '<tr><th scope="row">{{ loop.index }}</th>{% for cell', "rows by their place for the shot's number"),
        ("{{ x.made(made_by) }}", "{{ x.made(r.versions[0].made_by) }}", "another version's tables"),
        ("<dd>{{ num(trouble.chance) }}</dd>", "<dd>{{ num(troubles[0][1].chance) }}</dd>", "one chance for all"),
    ),
    *in_file(
        "builder/templates/macros.jinja",
        ("{{ finding(stop) if stop }}", "{{ finding(own.findings[0]) if stop }}", "another finding for the stop"),
        ('placed(keyed(figure, "w.point"))', 'placed(keyed(figure, "w.fill"))', "a choice puts the lower limit here"),
        ("tables=by.tables[:8]", "tables=by.tables[:6]", "fewer digits of the tables"),
        ("count\", count=cautions(step, kind=kind)|length", "count\", count=cautions()|length", "all cautions for those of a step"),
    ),
    *in_file(
        "builder/templates/version.md.jinja",
        ("{{ kept(v.stop) if v.stop else", "{{ kept(v.findings[0]) if v.stop else", "another finding for the stop"),
        ('~ finding(drift.stop) }}', '~ finding(v.findings[0]) }}', "another finding for today's stop"),
        ('<th scope="col">{{ say("release.drift.then") }}</th><th scope="col">{{ say("release.drift.now") }}</th>', '<th scope="col">{{ say("release.drift.now") }}</th><th scope="col">{{ say("release.drift.then") }}</th>', "then and now changed over"),
        ('<th scope="col">{{ say("release.page.before") }}</th><th scope="col">{{ say("release.page.now") }}</th>', '<th scope="col">{{ say("release.page.now") }}</th><th scope="col">{{ say("release.page.before") }}</th>', "before and now changed over"),
        ("{% for change in drift.changes %}", "{% for change in v.changes %}", "the release's changes for the drift's"),
        ("{% for change in v.changes %}", "{% for change in drift.changes %}", "the drift's changes for the release's"),
        ("{{ kept(f) }}", "{{ kept(v.findings[0]) }}", "one finding for all"),
        ("{{ x.made(v.made_by) }}", "{{ x.made(drift.today) }}", "today's tables for the release's"),
        ("date=v.date) }}{% if v.author", "date=v.order) }}{% if v.author", "the order for the day"),
    ),
    *in_file(
        "builder/templates/card.html.jinja",
        ("<td>{{ barely(opened) }}</td><td>{{ barely(rest) }}</td>", "<td>{{ barely(rest) }}</td><td>{{ barely(opened) }}</td>", "time to open and rest changed over"),
        ("put_or(alone and told.point,", "put_or(alone and told.fill,", "lower limit for the temperature to shoot at"),
        ("{{ kept(stop) if alone and stop }}", "", "no stop where it must not be shot"),
    ),
    *in_file(
        "builder/templates/safety.md.jinja",
        ("{% if c.year %}, {{ c.year }}{% endif %}", "", "no year of a source"),
        ("{{ caution_text(c) }}", "{{ caution_text(cautions(step)[0]) }}", "one caution for all"),
    ),
)  # fmt: skip

CARD = in_file(
    "builder/templates/card.html.jinja",
    ("alone and own.hold_s", "alone and own.cool_s", "opening time for the hold"),
    ("alone and own.plastisol_limit_c", "alone and own.mold_limit_c", "the mold's limit for the plastisol's"),
    ("{{ bare(row.heat_ml) }}</td><td>{{ bare(row.heat_g) }}", "{{ bare(row.heat_g) }}</td><td>{{ bare(row.heat_ml) }}", "volume and weight changed over"),
    ("{{ row.baits }}</th>", "{{ row.shots }}</th>", "shots for baits"),
    ("{{ spec.cavities if alone }}", "{{ spec.parts|length if alone }}", "parts for baits"),
    ("alone and eye,", 'alone and (eye and measured(eye.value / 2, "mm")),', "an eye's radius for its diameter"),
    ('own.plastisol_limit_c, "w.plastisol_limit")', 'own.plastisol_limit_c, "w.mold_limit")', "on the site the mold's limit"),
)  # fmt: skip

OTHERS = (
    *in_file(
        "builder/templates/macros.jinja",
    ),
    *in_file(
        "builder/templates/version.md.jinja",
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
        ('clock("hold", "w.hold")', 'clock("hold", "t.cool")', "the time to open for the hold"),
        ('clock("open", "t.cool")', 'clock("open", "w.cool")', "the first shot's time whatever the shot"),
        ('clock("rest", "t.rest")', 'clock("rest", "w.rest")', "the later shots' rest whatever the shot"),
        ('data-n="a.shot_ml"', 'data-n="a.one_ml"', "what is measured cold for what the injector holds"),
        ('data-n="w.plans.{{ molds - 1 }}"', 'data-n="w.plans.0"', "one mold's baits an hour for all"),
        ("rate\", molds=molds)", "rate\", molds=molds + 1)", "one mold more"),
        ('("limit", "w.plastisol_limit")', '("limit", "w.mold_limit")', "the mold's limit for the plastisol's"),
        ('("shoot", "w.point")', '("shoot", "w.fill")', "lower limit for the temperature to shoot at"),
        ('data-b="heat_ml"></dd>', 'data-b="heat_g"></dd>', "weight for volume"),
        ('data-b="fresh_ml"', 'data-b="remelt_ml"', "remelt for fresh plastisol"),
        ('value="12"', 'value="10"', "ten baits at first"),
        ('<option value="{{ s }}">{{ s }} %</option>{% endfor %}</select></label>\n<label class="sb-field">{{ say("page.bench.remelt") }}', '<option value="{{ s }}">{{ s * 10 }} %</option>{% endfor %}</select></label>\n<label class="sb-field">{{ say("page.bench.remelt") }}', "ten times the spare"),
    ),
)  # fmt: skip
MUTANTS = (*MOLD, *NEW, *CARD, *OTHERS)
