/* The bench page: numbers of one mold, three timers that outlive a reload, the batch and its recipe. */
"use strict";
(() => {
  const page = document.querySelector(".sb-bench");
  const words = JSON.parse(page.dataset.words);
  const language = page.closest("[lang]").lang;
  const pick = page.querySelector(".sb-bench-pick"), batch = page.querySelector(".sb-bench-batch");
  const row = page.querySelector(".sb-bench-shots");
  const status = page.querySelector(".sb-status");
  let data, colours, lock;

  /* -- what is picked ---------------------------------------------------------------------------- */

  function fill(select, pairs, chosen) {
    select.replaceChildren(...pairs.map(([value, text]) => new Option(text, value)));
    if (pairs.some(([value]) => value === chosen)) select.value = chosen;
  }

  async function open(slug) {
    data = await shotbook.load(`molds/${slug}`);
    const plastisol = data.a[shotbook.wished("plastisol")] ? shotbook.wished("plastisol") : data.own[0];
    fill(pick.elements.plastisol, Object.keys(data.a).map((id) => [id, words.plastisol[id] ?? id]), plastisol);
    const materials = data.w[plastisol], kept = shotbook.wished("material");
    fill(pick.elements.material, Object.keys(materials).map((id) => [id, words.material[id] ?? id]),
      materials[kept] ? kept : data.own[1]);
    const own = data.colours.map((colour, index) => [`own-${index}`, colour.name]);
    fill(batch.elements.colour, [["", words.none], ...own, ...Object.entries(colours).map(([id, c]) => [id, c.name])],
      shotbook.recall("colour"));
    page.querySelector("[data-page]").href = shotbook.page(`molds/${slug}`);
    page.querySelector("[data-card]").href = `${shotbook.base}/card.html#${slug}`;
    page.querySelector("[data-timer=hold]").hidden = data.kind === "open pour";
    history.replaceState(null, "", `#${slug}`);
    shotbook.remember("mold", slug);
    const body = page.querySelector(".sb-bench-body"), told = page.querySelector("[data-withdrawn]"), asked = data;
    body.hidden = Boolean(data.withdrawn);
    told.hidden = !data.withdrawn;
    show();
    const found = await shotbook.withdrawn(data);
    if (!found || data !== asked) return;
    told.textContent = shotbook.withdrawal(found);
    told.hidden = !(body.hidden = true);
  }

  function show() {
    const found = { a: data.a[pick.elements.plastisol.value] };
    found.w = data.w[pick.elements.plastisol.value][pick.elements.material.value];
    const times = timesOf(found.w, Number(row.elements.shot.value)), hurried = Number(row.elements.pace.value);
    found.t = { cool: hurried ? times.hurried : times.open, rest: times.rest };
    for (const place of page.querySelectorAll("[data-n]")) {
      const texts = place.dataset.n.split(".").reduce((at, key) => at?.[key], found);
      if (texts) shotbook.write(place, texts); else place.textContent = "–";
    }
    shotbook.stops(data, found.w, pick.elements.plastisol.value === data.own[0] && pick.elements.material.value === data.own[1]);
    page.querySelector("[data-shut]").hidden = Boolean(found.w.point);
    const seconds = [found.w.hold_seconds, times.seconds[hurried], times.seconds[2]];
    for (const timer of timers) timer.set(seconds[timer.index]);
    page.querySelector("[data-rates]").hidden = !found.w.plans.length;
    work();
  }

  /* The times of a shot by its number; between the numbers that are listed, those of the next one. */
  function timesOf(pair, shot) {
    const steady = pair.times.at(-1);
    return shot === 0 ? steady : pair.times.find((one) => one.shot >= shot) ?? steady;
  }

  function count(shot) {
    const most = row.elements.shot.options.length - 1;
    row.elements.shot.value = shot > most ? 0 : shot;
    shotbook.remember("shot", row.elements.shot.value);
    show();
  }

  /* -- the batch, as builder/recipes.py works it out ---------------------------------------------- */

  const times = (triple, factor) => triple.map((one) => one * factor);

  function amounts(numbers, cavities, baits, spare, remelt, ingredients) {
    const shots = Math.ceil(baits / cavities);
    let { one_ml, one_g } = numbers;
    if (spare !== null) {
      const spared = times(numbers.shot_g, 1 + spare);
      [one_ml, one_g] = [times(spared, one_ml[0] / one_g[0]), spared];
    }
    const heat_ml = times(one_ml, shots), fresh_ml = times(heat_ml, 1 - remelt);
    return {
      shots, heat_ml, fresh_ml, heat_g: times(one_g, shots), remelt_ml: times(heat_ml, remelt),
      ingredients: ingredients.map((one) => one.amount_per_100_ml * fresh_ml[0] / 100),
    };
  }

  function recipe() {
    const chosen = batch.elements.colour.value;
    if (chosen.startsWith("own-")) return data.colours[Number(chosen.slice(4))].ingredients;
    return colours[chosen]?.ingredients ?? [];
  }

  function work() {
    const { baits, spare, remelt } = batch.elements;
    const count = Math.min(Math.max(Math.round(Number(baits.value)) || 1, 1), 200);
    const share = spare.value === "" ? null : Number(spare.value) / 100;
    const ingredients = recipe();
    const made = amounts(data.numbers[pick.elements.plastisol.value], data.cavities, count, share,
      Number(remelt.value) / 100, ingredients);
    page.querySelector("[data-b=shots]").textContent = made.shots;
    for (const [name, unit] of [["heat_ml", "ml"], ["heat_g", "g"], ["fresh_ml", "ml"], ["remelt_ml", "ml"]]) {
      shotbook.write(page.querySelector(`[data-b=${name}]`), shotbook.figures.show(made[name], unit, language));
    }
    for (const place of page.querySelectorAll("[data-remelt]")) place.hidden = remelt.value === "0";
    page.querySelector(".sb-recipe").replaceChildren(...ingredients.map((one, index) => {
      const item = document.createElement("li"), amount = document.createElement("b");
      const unit = one.unit === "drops" ? "count" : one.unit, value = made.ingredients[index];
      const triple = unit === "count" ? Array(3).fill(Math.round(value)) : Array(3).fill(value);
      shotbook.write(amount, shotbook.figures.show(triple, unit, language));
      item.append(amount, one.unit === "drops" ? ` ${words.drops} ` : " ", one.what);
      return item;
    }));
  }

  /* -- timers ------------------------------------------------------------------------------------ */

  class Timer {
    constructor(box, index) {
      Object.assign(this, { box, index, name: box.dataset.timer, seconds: 0 });
      this.clock = box.querySelector(".sb-clock");
      [this.go, this.halt] = [box.querySelector("[data-go]"), box.querySelector("[data-halt]")];
      this.go.onclick = () => this.start(Date.now() + this.seconds * 1000);
      this.halt.onclick = () => this.stop();
      const until = Number(shotbook.recall(`timer-${this.name}`));
      if (until) this.start(until);
    }

    set(seconds) {
      this.seconds = seconds;
      this.tick();
    }

    start(until) {
      this.until = until;
      shotbook.remember(`timer-${this.name}`, until);
      this.halt.disabled = false;
      keepAwake();
      clearInterval(this.beat);
      this.beat = setInterval(() => this.tick(), 200);
      this.box.classList.remove("sb-done");
      this.tick();
    }

    stop() {
      clearInterval(this.beat);
      this.until = null;
      shotbook.remember(`timer-${this.name}`, "");
      this.halt.disabled = true;
      this.box.classList.remove("sb-done", "sb-running");
      this.tick();
      if (timers.every((timer) => !timer.until)) lock?.release().catch(() => {});
    }

    tick() {
      if (!this.box.isConnected) clearInterval(this.beat);
      const left = this.until ? Math.ceil((this.until - Date.now()) / 1000) : this.seconds;
      const shown = Math.abs(left);
      const text = `${left < 0 ? "−" : ""}${Math.floor(shown / 60)}:${String(shown % 60).padStart(2, "0")}`;
      if (this.clock.textContent !== text) this.clock.textContent = text;
      this.box.classList.toggle("sb-running", Boolean(this.until) && left > 0);
      if (!this.until || left > 0 || !this.box.isConnected || this.box.classList.contains("sb-done")) return;
      this.box.classList.add("sb-done");
      status.textContent = `${this.box.querySelector("h3").textContent}: ${words.done}`;
      alarm();
    }
  }

  /* Three tones and a buzz; where the browser refuses either, the page still turns colour. */
  function alarm() {
    navigator.vibrate?.([400, 150, 400, 150, 400]);
    try {
      const sound = new AudioContext();
      for (const start of [0, 0.5, 1]) {
        const tone = sound.createOscillator(), loud = sound.createGain();
        tone.frequency.value = 880;
        loud.gain.value = 0.3;
        tone.connect(loud).connect(sound.destination);
        tone.start(sound.currentTime + start);
        tone.stop(sound.currentTime + start + 0.3);
      }
    } catch { /* no sound here */ }
  }

  async function keepAwake() {
    try { lock = await navigator.wakeLock?.request("screen"); } catch { /* the screen may sleep; the timer goes on */ }
  }

  const timers = [...page.querySelectorAll("[data-timer]")].map((box, index) => new Timer(box, index));

  /* -- start ------------------------------------------------------------------------------------- */

  async function start() {
    const [molds, kept] = [await shotbook.load("index"), shotbook.recall("mold")];
    colours = await shotbook.load("colours");
    row.elements.shot.value = shotbook.recall("shot") ?? 1;
    if (row.elements.shot.selectedIndex < 0) row.elements.shot.value = 1;
    const asked = shotbook.fragment();
    const known = (slug) => molds.some((mold) => mold.slug === slug);
    fill(pick.elements.mold, molds.map((mold) => [mold.slug, mold.title]), known(asked) ? asked : kept);
    pick.hidden = false;
    if (molds.length) await open(pick.elements.mold.value);
  }

  pick.addEventListener("change", (event) => {
    if (event.target.name === "mold") { open(event.target.value); return; }
    shotbook.remember(event.target.name, event.target.value);
    show();
  });
  pick.addEventListener("submit", (event) => event.preventDefault());
  row.addEventListener("submit", (event) => event.preventDefault());
  row.addEventListener("change", () => count(Number(row.elements.shot.value)));
  row.addEventListener("click", ({ target }) => {
    const shot = Number(row.elements.shot.value);
    if (target.matches("[data-next]")) count(shot === 0 ? 11 : shot + 1);
    if (target.matches("[data-first]")) count(1);
  });
  batch.addEventListener("submit", (event) => event.preventDefault());
  batch.addEventListener("input", () => { shotbook.remember("colour", batch.elements.colour.value); work(); });
  batch.addEventListener("click", (event) => {
    const step = Number(event.target.dataset?.step);
    if (!step) return;
    batch.elements.baits.value = Math.max(1, Number(batch.elements.baits.value) + step);
    work();
  });
  addEventListener("hashchange", () => { if (page.isConnected) start(); });
  document.addEventListener("visibilitychange", () => { if (!document.hidden && timers.some((t) => t.until)) keepAwake(); });
  window.bench = { amounts };
  start();
})();
