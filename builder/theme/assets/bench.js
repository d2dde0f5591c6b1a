/* The bench: one card for each step of a shot, and molds in turn, each with its shots and clocks. All of it
   outlives a reload. */
"use strict";
(() => {
  const STEPS = ["amount", "heat", "push", "hold", "open", "rest"];
  const CLOCKS = ["hold", "open", "rest"];
  const BEAT_MS = 200;
  const page = document.querySelector(".sb-bench");
  const words = JSON.parse(page.dataset.words);
  const find = (selector) => page.querySelector(selector), all = (selector) => page.querySelectorAll(selector);
  const pick = find(".sb-bench-pick"), form = find(".sb-bench-batch"), forward = find("[data-next]");
  const body = find(".sb-bench-body"), rack = find(".sb-rack ul"), setup = find(".sb-bench-setup");
  const { timers, batch } = shotbook, rung = new Set();
  let molds, colours, data, bench = { at: 0, molds: [] };

  /* -- what is on the bench ---------------------------------------------------------------------- */

  const now = () => bench.molds[bench.at];
  const running = (one) => CLOCKS.some((name) => one.until[name]);
  const idle = (one) => !running(one) && one.shot === 1 && ["amount", "heat"].includes(one.step);
  const fresh = (slug) => ({ slug, shot: 1, hurried: 0, step: "amount", baits: "12", until: {} });

  function restored() {
    try {
      const kept = JSON.parse(shotbook.recall("bench"));
      const known = kept.molds.filter((one) => molds.some(({ slug }) => slug === one.slug) && STEPS.includes(one.step));
      return { at: Math.min(Math.max(kept.at, 0), known.length - 1), molds: known };
    } catch { return { at: 0, molds: [] }; }
  }

  const save = () => shotbook.remember("bench", JSON.stringify(bench));

  /* The name of a mold on the bench; of several like it with its number. */
  function named(one) {
    const alike = bench.molds.filter(({ slug }) => slug === one.slug);
    const { title } = molds.find(({ slug }) => slug === one.slug);
    return alike.length > 1 ? `${title} ${alike.indexOf(one) + 1}` : title;
  }

  /* The mold that the address names: the one that is there already, or a new one in an idle one's place. */
  async function arrive() {
    const asked = shotbook.fragment();
    const slug = [asked, now()?.slug, shotbook.recall("mold"), molds[0].slug].find((one) => molds.some((mold) => mold.slug === one));
    const there = now()?.slug === slug ? bench.at : bench.molds.findIndex((one) => one.slug === slug);
    if (there >= 0) bench.at = there;
    else if (now() && idle(now())) bench.molds[bench.at] = fresh(slug);
    else bench.at = bench.molds.push(fresh(slug)) - 1;
    await open(shotbook.wish());
  }

  function fill(select, pairs, chosen) {
    select.replaceChildren(...pairs.map(([value, text]) => new Option(text, value)));
    if (pairs.some(([value]) => value === chosen)) select.value = chosen;
  }

  /* Show the mold that is in turn; `wanted` is a pair asked for, which a mold at work does not take. */
  async function open(wanted = now()) {
    const one = now();
    data = null; // nothing of the mold before is read or used for this one
    body.hidden = true;
    const loaded = await shotbook.load(`molds/${one.slug}`).catch(() => null);
    if (one !== now()) return;
    find("[data-unread]").hidden = Boolean(loaded);
    if (!loaded) { turns(one); return; }
    data = loaded;
    if (idle(one) || !one.plastisol) [one.plastisol, one.material] = shotbook.pair(data, wanted);
    else [one.plastisol, one.material] = shotbook.pair(data, one);
    if (data.kind === "open pour" && one.step === "hold") one.step = "open";
    shotbook.remember("mold", one.slug);
    const own = data.colours.map((colour, index) => [`own-${index}`, colour.name]);
    fill(form.elements.colour, [["", words.none], ...own, ...Object.entries(colours).map(([id, c]) => [id, c.name])],
      shotbook.recall("colour"));
    form.elements.baits.value = one.baits;
    for (const place of all("[data-kind]")) place.hidden = place.dataset.kind !== data.kind;
    show();
    withdrawal(data);
  }

  async function withdrawal(asked) {
    const told = find("[data-withdrawn]");
    body.hidden = Boolean(asked.withdrawn);
    told.hidden = !asked.withdrawn;
    const found = await shotbook.withdrawn(asked);
    if (!found || data !== asked) return;
    told.textContent = shotbook.withdrawal(found);
    told.hidden = !(body.hidden = true);
  }

  /* -- the card in view -------------------------------------------------------------------------- */

  /* The times of a shot by its number; between the numbers that are listed, those of the next one. */
  function timesOf(pair, shot) {
    const steady = pair.times.at(-1);
    return shot === 0 ? steady : pair.times.find((one) => one.shot >= shot) ?? steady;
  }

  const pairOf = (one) => data.w[one.plastisol][one.material];

  /* What each clock counts down for a mold at work: the seconds of the text beside it. */
  function secondsOf(one) {
    const times = timesOf(pairOf(one), one.shot);
    return { hold: pairOf(one).hold_seconds, open: times.seconds[one.hurried], rest: times.seconds[2] };
  }

  function show() {
    if (!data) return;
    const one = now(), times = timesOf(pairOf(one), one.shot);
    const found = { a: data.a[one.plastisol], w: pairOf(one), t: { cool: one.hurried ? times.hurried : times.open, rest: times.rest } };
    for (const place of all("[data-n]")) {
      const texts = place.dataset.n.split(".").reduce((at, key) => at?.[key], found);
      if (texts) shotbook.write(place, texts); else place.textContent = "–";
    }
    history.replaceState(null, "", `${location.pathname}${location.search}#${one.slug}`);
    find("[data-page]").href = shotbook.page(`molds/${one.slug}`);
    find("[data-card]").href = `${shotbook.base}/card.html#${one.slug}`;
    const own = shotbook.isOwn(data, one.plastisol, one.material);
    shotbook.carry(own ? null : { plastisol: one.plastisol, material: one.material });
    shotbook.stops(data, found.w, own);
    for (const place of all("[data-shut]")) place.hidden = Boolean(found.w.point);
    find("[data-rates]").hidden = !found.w.plans.length;
    choices(one);
    cards(one);
    work();
    beat();
    save();
  }

  /* The molds on the bench, and which of them is in turn. */
  function turns(one) {
    const { mold } = pick.elements;
    fill(mold, molds.map(({ slug, title }) => [slug, title]), one.slug);
    mold.disabled = !idle(one);
    find("[data-off]").hidden = bench.molds.length < 2;
    rack.replaceChildren(...bench.molds.map(chip), adder());
  }

  function choices(one) {
    const { plastisol, material, shot, pace } = pick.elements;
    turns(one);
    fill(plastisol, data.names.plastisol, one.plastisol);
    fill(material, data.names.material.filter(([id]) => data.w[one.plastisol][id]), one.material);
    shot.value = one.shot > 10 ? 0 : one.shot;
    pace.value = one.hurried;
    for (const field of [plastisol, material, shot, pace]) field.disabled = running(one);
    find("[data-setup]").textContent = [plastisol, material].map((field) => field.selectedOptions[0].textContent).join(" · ");
  }

  function chip(one, index) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "sb-chip" });
    const clock = Object.assign(document.createElement("span"), { className: "sb-chip-clock" });
    button.append(named(one), " ", clock);
    if (index === bench.at) button.setAttribute("aria-current", "true");
    button.onclick = () => { bench.at = index; open(); };
    const item = document.createElement("li");
    item.append(button);
    return item;
  }

  function adder() {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "sb-chip", textContent: `+ ${words.add}` });
    button.onclick = () => {
      const { plastisol, material } = now();
      bench.at = bench.molds.push({ ...fresh(now().slug), plastisol, material }) - 1;
      setup.open = true;
      open();
    };
    const item = document.createElement("li");
    item.append(button);
    return item;
  }

  function cards(one) {
    const pour = data.kind === "open pour", steps = STEPS.filter((step) => !(pour && step === "hold"));
    for (const card of all(".sb-step")) card.hidden = card.dataset.step !== one.step;
    for (const tab of all("[data-to]")) {
      tab.parentElement.hidden = !steps.includes(tab.dataset.to);
      tab.toggleAttribute("aria-current", tab.dataset.to === one.step);
      if (tab.dataset.to === one.step) tab.setAttribute("aria-current", "step");
    }
    find("[data-full]").hidden = !["amount", "heat"].includes(one.step) || running(one);
    delete forward.dataset.asked;
    forward.textContent = (pour && words.go[`${one.step}_pour`]) || words.go[one.step];
  }

  /* What sinks in the cup is told where the plastisol or the colour has it. */
  function sinking(one) {
    const mixed = batch.recipe(form, data, colours).map((each) => each.grain);
    const found = [...mixed, data.a[one.plastisol].grain];
    for (const place of all("[data-grain]")) {
      place.hidden = !place.dataset.grain.split(" ").some((grain) => found.includes(grain));
    }
  }

  /* Words for the mold: one that is poured open has some of its own. */
  const wordsOf = (poured) => (poured ? { ...words, ...words.poured } : words);

  function work() {
    const one = now(), own = wordsOf(data.kind === "open pour");
    const shots = batch.show(page, form, data, one.plastisol, colours, own);
    sinking(one);
    const told = shots && one.shot <= shots ? own.counter : own.counter_more;
    find("[data-counter]").textContent = told.replace("{shot}", one.shot).replace("{shots}", shots);
  }

  /* -- step by step ------------------------------------------------------------------------------ */

  function turn(step) {
    now().step = step;
    show();
    const head = find(`[data-step=${step}] h2`);
    head.focus({ preventScroll: true });
    scrollTo(0, 0);
  }

  function start(...names) {
    const seconds = secondsOf(now());
    for (const name of names) if (seconds[name] > 0) now().until[name] = Date.now() + seconds[name] * 1000;
  }

  function stop(...names) {
    for (const name of names) delete now().until[name];
  }

  /* What the big button does in each step. A mold's clocks start when it is full, all from the same moment. */
  const FORWARD = {
    amount: () => turn("heat"),
    heat: () => turn("push"),
    push: () => {
      stop("rest");
      start(...(data.kind === "open pour" ? ["open"] : ["hold", "open"]));
      turn(data.kind === "open pour" ? "open" : "hold");
    },
    hold: () => { stop("hold"); turn("open"); },
    open: () => { stop("hold", "open"); start("rest"); turn("rest"); },
    rest: () => { stop("rest"); now().shot += 1; turn("heat"); },
  };
  /* Clocks that a step would cut short or start anew while they still run. */
  const RISKED = { push: ["hold", "open"], hold: ["hold"], open: ["open"], rest: ["rest"] };

  function next() {
    const one = now(), left = (name) => (one.until[name] ?? 0) > Date.now();
    if ((RISKED[one.step] ?? []).some(left)) timers.twice(forward, words.again, FORWARD[one.step]);
    else FORWARD[one.step]();
  }

  /* -- clocks ------------------------------------------------------------------------------------ */

  const left = (until) => Math.ceil((until - Date.now()) / 1000);

  function beat() {
    const one = now(), seconds = data && secondsOf(one);
    for (const box of all("[data-timer]")) {
      const name = box.dataset.timer, until = one.until[name], rest = until ? left(until) : seconds?.[name] ?? 0;
      const [clock, go, halt] = [".sb-clock", "[data-go]", "[data-halt]"].map((part) => box.querySelector(part));
      if (clock.textContent !== timers.text(rest)) clock.textContent = timers.text(rest);
      clock.hidden = !until && !rest;
      go.hidden = Boolean(until) || !rest;
      halt.hidden = !until;
      box.classList.toggle("sb-running", Boolean(until) && rest > 0);
      box.classList.toggle("sb-done", Boolean(until) && rest <= 0);
    }
    bench.molds.forEach(chipClock);
    const late = bench.molds.flatMap((each) => CLOCKS.filter((name) => each.until[name] && left(each.until[name]) <= 0)
      .map((name) => ({ each, name, key: `${named(each)} ${name} ${each.until[name]}` })));
    const anew = late.filter(({ key }) => !rung.has(key));
    page.classList.toggle("sb-up", late.length > 0);
    for (const { each, name, key } of anew) {
      rung.add(key);
      find(".sb-status").textContent = `${named(each)}, ${words.clock[name]}: ${words.done}`;
    }
    if (anew.length) timers.alarm();
    const awake = bench.molds.some(running);
    find("[data-silent]").hidden = !awake || timers.audible();
    timers.keepAwake(awake && !document.hidden);
  }

  function chipClock(one, index) {
    const place = rack.children[index]?.querySelector(".sb-chip-clock");
    if (!place) return;
    const [name, until] = Object.entries(one.until).sort((a, b) => a[1] - b[1])[0] ?? [];
    const told = until ? `${words.clock[name]} ${timers.text(left(until))}` : wordsOf(molds.find(({ slug }) => slug === one.slug)?.poured).shot.replace("{shot}", one.shot);
    if (place.textContent !== told) place.textContent = told;
    place.parentElement.classList.toggle("sb-done", Boolean(until) && left(until) <= 0);
  }

  /* -- start ------------------------------------------------------------------------------------- */

  async function begin() {
    molds = await shotbook.load("index");
    colours = await shotbook.load("colours");
    bench = restored();
    pick.hidden = find(".sb-rack").hidden = false;
    if (!molds.length) return;
    await arrive();
    const pulse = setInterval(() => { if (page.isConnected) beat(); else clearInterval(pulse); }, BEAT_MS);
    addEventListener("hashchange", () => { if (page.isConnected) arrive(); });
    timers.heard(() => { if (page.classList.contains("sb-up")) timers.alarm(); beat(); });
  }

  pick.addEventListener("change", ({ target: { name, value } }) => {
    const one = now();
    if (name === "mold") { bench.molds[bench.at] = { ...fresh(value), baits: one.baits }; open({}); return; }
    if (name === "shot") one.shot = Number(value) || 11;
    else if (name === "pace") one.hurried = Number(value);
    else one[name] = value;
    show();
  });
  find("[data-off]").onclick = ({ target }) => {
    const remove = () => { bench.molds.splice(bench.at, 1); bench.at = 0; open(); };
    if (running(now())) timers.twice(target, words.again, remove); else remove();
  };
  find("[data-first]").onclick = () => { if (!running(now())) { now().shot = 1; show(); } };
  find(".sb-bench-steps").onclick = ({ target }) => {
    const tab = target.closest("[data-to]");
    if (tab) turn(tab.dataset.to);
  };
  forward.onclick = next;
  find("[data-full]").onclick = FORWARD.push;
  for (const box of all("[data-timer]")) {
    const name = box.dataset.timer, halt = box.querySelector("[data-halt]");
    box.querySelector("[data-go]").onclick = () => { start(name); show(); };
    halt.onclick = () => timers.twice(halt, words.meant, () => { stop(name); show(); });
  }
  for (const each of [pick, form]) each.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", () => {
    if (!data) return;
    shotbook.remember("colour", form.elements.colour.value);
    now().baits = form.elements.baits.value;
    work();
    save();
  });
  form.addEventListener("click", ({ target }) => {
    const step = Number(target.dataset?.step), { baits } = form.elements;
    if (!step) return;
    baits.value = Math.min(Math.max((batch.count(baits.value) ?? 0) + step, 1), 1000);
    form.dispatchEvent(new Event("input"));
  });
  document.addEventListener("visibilitychange", () => { if (data && page.isConnected) beat(); });
  window.bench = { amounts: batch.amounts };
  begin();
})();
