/* Finding a mold: the list that stands in the page is narrowed and sorted from data/index.js. The address
   keeps what was asked with its units, so that a search can be sent on; Back leads to the same place of the list. */
"use strict";
(() => {
  const { finding } = shotbook;
  const form = document.querySelector(".sb-find"), cards = document.querySelector(".sb-cards");
  const words = JSON.parse(form.dataset.words), count = document.querySelector(".sb-count");
  const more = document.querySelector("[data-more]"), bar = document.querySelector(".sb-chosen");
  const none = document.querySelector(".sb-none"), pager = document.querySelector(".sb-pager");
  const PAGE = 72, FIRST = 12, MOST_CHIPS = 14, MOST_CHOSEN = 4;
  const US = { mm: ["in", 25.4], g: ["oz", 28.349523125], ml: ["fl oz", 29.5735295625] };
  const METRIC = { mm: "mm", g: "g", ml: "mL" };
  const FACETS = {
    type: (mold) => [mold.type], target: (mold) => mold.target, cavities: (mold) => [String(mold.cavities)],
    works: (mold) => mold.works, size: (mold) => [sizes().find(({ low, high }) => mold.length >= low && mold.length < high).value],
  };
  const chosen = new Set(), made = new Map();
  let molds, shown = PAGE, inches = american();

  function american() { return document.documentElement.dataset.units === "us"; }
  const sizes = () => finding.sizes(american());
  const value = (name) => form.elements[name].value.trim();
  const ticked = (name) => [...form.querySelectorAll(`[data-facet=${name}] input:checked`)].map((one) => one.value);

  /* A number typed in the units that the page shows, in the catalogue's own; null when there is none. */
  function typed(name, unit) {
    const number = Number(value(name).replace(",", "."));
    return value(name) === "" || Number.isNaN(number) ? null : number * (american() ? US[unit][1] : 1);
  }

  /* What is asked, each by its name: a test of a mold. */
  function tests() {
    const made = {};
    if (value("q")) made.q = finding.wording(value("q"), molds);
    for (const [name, of] of Object.entries(FACETS)) {
      const wanted = ticked(name);
      if (wanted.length) made[name] = (mold) => of(mold).some((one) => wanted.includes(one));
    }
    for (const [name, unit] of [["length", "mm"], ["weight", "g"]]) {
      const [low, high] = [typed(`${name}_from`, unit), typed(`${name}_to`, unit)];
      const between = (number) => (low === null || number >= low) && (high === null || number <= high);
      if (low !== null || high !== null) made[`${name}_from`] = (mold) => between(mold[name]);
    }
    const holds = typed("shot", "ml"), bed = [typed("bed_x", "mm"), typed("bed_y", "mm")].sort((a, b) => a - b);
    if (holds !== null) made.shot = (mold) => mold.shot <= holds;
    const fits = (sides) => {
      const [small, large] = [...sides].sort((a, b) => a - b);
      return (bed[0] === null || small <= bed[0]) && (bed[1] === null || large <= bed[1]);
    };
    if (bed.some((side) => side !== null)) made.bed_x = (mold) => fits(mold.bed);
    return made;
  }

  function sorted(list) {
    const key = value("sort");
    const by = key === "title" ? "rank" : key;
    return [...list].sort((a, b) => a[by] - b[by]);
  }

  function element(name, text, attributes = {}) {
    const made = document.createElement(name);
    made.textContent = text;
    for (const [key, one] of Object.entries(attributes)) made.setAttribute(key, one);
    return made;
  }

  /* A mold's card, made once; only what is ticked changes. */
  function card(mold) {
    if (!made.has(mold)) made.set(mold, newCard(mold));
    const box = made.get(mold);
    box.querySelector("input").checked = chosen.has(mold.slug);
    return box;
  }

  function newCard(mold) {
    const box = element("article", "", { class: "sb-card" });
    const link = element("a", "", { href: shotbook.page(`molds/${mold.slug}`) });
    if (mold.picture) {
      const [file, width, height] = mold.picture;
      link.append(element("img", "", { src: `${shotbook.base}/molds/${mold.slug}/${file}`, width, height, alt: "", loading: "lazy" }));
    }
    link.append(element("h2", mold.title));
    const facts = element("dl", "");
    mold.facts.forEach((texts, index) => {
      const pair = element("div", ""), told = element("dd", "–");
      if (texts) shotbook.write(told, texts);
      pair.append(element("dt", (mold.poured ? words.facts_poured : words.facts)[index]), told);
      facts.append(pair);
    });
    const label = element("label", ""), tick = element("input", "", { type: "checkbox" });
    tick.addEventListener("change", () => choose(mold.slug, tick.checked));
    label.append(tick, element("span", ` ${words.compare}`));
    if (mold.stop) box.append(element("p", mold.stop, { class: "sb-stop" }));
    box.append(link, element("p", mold.by));
    if (mold.withdrawn) box.append(element("p", `${words.withdrawn} ${mold.withdrawn}`, { class: "sb-stop" }));
    box.append(facts, label);
    return box;
  }

  /* -- comparing --------------------------------------------------------------------------------- */

  function choose(slug, wanted) {
    if (!wanted) chosen.delete(slug);
    else if (chosen.size < MOST_CHOSEN) chosen.add(slug);
    for (const mold of made.keys()) card(mold);
    chosenBar();
    keep();
  }

  /* The bar that stays: what is chosen, each to be put back, and the way to compare. */
  function chosenBar() {
    bar.hidden = !chosen.size;
    bar.querySelector("ul").replaceChildren(...[...chosen].map((slug) => {
      const item = element("li", ""), { title } = molds.find((mold) => mold.slug === slug);
      const button = element("button", `${title} ×`, { type: "button", class: "sb-button", "aria-label": words.unchoose.replace("{title}", title) });
      button.addEventListener("click", () => choose(slug, false));
      item.append(button);
      return item;
    }));
    const link = bar.querySelector("a");
    link.hidden = chosen.size < 2;
    link.href = `${shotbook.page("compare")}#${[...chosen].join(",")}`;
  }

  /* -- chips ------------------------------------------------------------------------------------- */

  const named = {
    works: (id) => words.material[id] ?? id,
    size: (id) => sizes().find((one) => one.value === id)?.name ?? id,
  };

  /* A chip for each value, with how many molds it would leave; the commonest first, sizes and counts in order. */
  function chips(facet, of, but) {
    const counts = new Map();
    for (const mold of but) for (const one of of(mold)) if (one !== "") counts.set(one, (counts.get(one) ?? 0) + 1);
    const on = ticked(facet);
    for (const one of on) if (!counts.has(one)) counts.set(one, 0);
    const place = facet === "size" ? (one) => sizes().findIndex(({ value: id }) => id === one) : Number;
    const ordered = [...counts].sort(["size", "cavities"].includes(facet) ? ([a], [b]) => place(a) - place(b)
      : ([a, m], [b, n]) => n - m || a.localeCompare(b));
    const box = form.querySelector(`[data-facet=${facet}]`), focused = document.activeElement?.closest("[data-facet]") === box && document.activeElement.value;
    const listed = ordered.filter(([one], index) => index < MOST_CHIPS || on.includes(one));
    const drawn = JSON.stringify([american(), on, listed]);
    if (box.drawn === drawn) return;
    box.drawn = drawn;
    box.replaceChildren(box.firstElementChild, ...listed.map(([one, size]) => {
      const label = element("label", "", { class: "sb-tag" }), input = element("input", "", { type: "checkbox", name: facet, value: one });
      input.checked = on.includes(one);
      label.append(input, element("span", `${named[facet]?.(one) ?? one} `), element("b", size));
      return label;
    }));
    if (focused) box.querySelector(`input[value="${CSS.escape(focused)}"]`)?.focus();
  }

  /* Nothing fits: what to give up, and how many molds that brings. */
  function help(asked, but) {
    const drops = Object.keys(asked).filter((name) => but[name].length).map((name) => {
      const field = form.querySelector(`[data-facet=${name}] legend`) ?? form.elements[name].closest("fieldset, label");
      const label = (field.matches("legend") ? field : field.querySelector("legend, span") ?? field.firstChild).textContent.trim();
      const button = element("button", `${words.without.replace("{filter}", label)} `, { type: "button", class: "sb-tag" });
      button.append(element("b", but[name].length));
      button.addEventListener("click", () => { clear(name); show(); });
      return button;
    });
    none.querySelector(".sb-chips").replaceChildren(...drops);
  }

  function clear(name) {
    for (const box of form.querySelectorAll(`[data-facet=${name}] input`)) box.checked = false;
    const group = { length_from: ["length_from", "length_to"], weight_from: ["weight_from", "weight_to"], bed_x: ["bed_x", "bed_y"] };
    for (const one of name in FACETS ? [] : group[name] ?? [name]) form.elements[one].value = "";
  }

  /* -- the list ---------------------------------------------------------------------------------- */

  /* The cards on the screen at once, the others as soon as that is drawn. */
  let later = 0;
  function put(list, atOnce) {
    const first = atOnce ? list.length : FIRST, turn = ++later;
    cards.replaceChildren(...list.slice(0, first).map(card));
    if (list.length <= first) return;
    requestAnimationFrame(() => setTimeout(() => { if (turn === later) cards.append(...list.slice(first).map(card)); }));
  }

  function show(atOnce = false) {
    const asked = tests(), { left, but } = finding.sieve(molds, asked);
    for (const [facet, of] of Object.entries(FACETS)) chips(facet, of, but[facet] ?? left);
    const list = sorted(left);
    put(list.slice(0, shown), atOnce);
    count.textContent = words.found.replace("{found}", list.length).replace("{count}", molds.length);
    more.hidden = list.length <= shown;
    form.querySelector("[type=reset]").hidden = !Object.keys(asked).length;
    none.hidden = Boolean(list.length);
    if (!list.length) help(asked, but);
    chosenBar();
    keep();
  }

  function keep() {
    const asked = new URLSearchParams([...new FormData(form)].filter(([name, text]) => text && !(name === "sort" && text === "title")));
    if ([...form.querySelectorAll("[data-in]")].some((field) => field.value)) asked.set("units", american() ? "us" : "metric");
    if (chosen.size) asked.set("chosen", [...chosen].join(","));
    history.replaceState(null, "", asked.size ? `#${asked}` : location.pathname + location.search);
  }

  /* Numbers that were typed in the other units. */
  function convert(us) {
    for (const field of form.querySelectorAll("[data-in]")) {
      const factor = US[field.dataset.in][1], number = Number(field.value.replace(",", "."));
      if (field.value && !Number.isNaN(number)) field.value = Number((us ? number / factor : number * factor).toPrecision(3));
    }
  }

  function units() {
    if (inches !== american()) {
      convert(american());
      for (const box of form.querySelectorAll("[data-facet=size] input")) box.checked = false;
      inches = american();
    }
    for (const place of form.querySelectorAll("[data-unit]")) {
      place.textContent = american() ? US[place.dataset.unit][0] : METRIC[place.dataset.unit];
    }
  }

  /* A step of length in the other units, as numbers. */
  function between(id) {
    const step = finding.sizes(!american()).find((one) => one.value === id);
    if (!step) return;
    const told = (mm) => (Number.isFinite(mm) && mm ? Number((american() ? mm / US.mm[1] : mm).toPrecision(3)) : "");
    [form.elements.length_from.value, form.elements.length_to.value] = [told(step.low), told(step.high)];
    form.querySelector("details").open = true;
  }

  /* What the address asks for, put into the form. */
  function arrive() {
    const asked = new URLSearchParams(location.hash.slice(1));
    for (const slug of (asked.get("chosen") ?? "").split(",")) if (molds.some((mold) => mold.slug === slug)) chosen.add(slug);
    for (const facet of Object.keys(FACETS)) {
      const box = form.querySelector(`[data-facet=${facet}]`);
      for (const one of asked.getAll(facet)) {
        if (facet === "size" && !sizes().some(({ value: id }) => id === one)) { between(one); continue; }
        const input = element("input", "", { type: "checkbox", name: facet, value: one });
        input.checked = true;
        box.append(input);
      }
    }
    for (const [name, text] of asked) {
      const field = form.elements.namedItem(name);
      if (field && !(name in FACETS)) field.value = text;
      if (!["q", "sort", "size", "units", "chosen"].includes(name)) form.querySelector("details").open = true;
    }
    const given = asked.get("units");
    if (given && (given === "us") !== american()) convert(american());
  }

  /* Back, and a reload, lead to the place of the list that was left. */
  const KEPT = "shotbook-catalogue";
  function leave() {
    try { sessionStorage.setItem(KEPT, JSON.stringify([location.href, scrollY, shown])); } catch { /* then from the top */ }
  }
  function returned() {
    try {
      const [address, y, many] = JSON.parse(sessionStorage.getItem(KEPT));
      const kind = performance.getEntriesByType("navigation")[0]?.type;
      return address === location.href && ["back_forward", "reload"].includes(kind) ? [y, many] : null;
    } catch { return null; }
  }

  async function start() {
    molds = finding.prepared(await shotbook.load("index"));
    const place = returned();
    if (place) shown = place[1];
    arrive();
    form.hidden = false;
    if (pager) pager.hidden = true;
    units();
    show(true);
    if (place) scrollTo(0, place[0]);
    addEventListener("pagehide", () => { if (form.isConnected) leave(); });
    form.addEventListener("input", () => { shown = PAGE; show(); });
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("reset", () => setTimeout(() => {
      for (const facet of Object.keys(FACETS)) clear(facet);
      show();
    }));
    document.addEventListener("units", () => { if (form.isConnected) { units(); show(); } });
    for (const { slug, version, reason } of await shotbook.recalled) {
      const mold = molds.find((one) => one.slug === slug && one.version === version && !one.withdrawn);
      if (mold) { mold.withdrawn = reason; made.delete(mold); show(true); }
    }
    more.addEventListener("click", () => { shown += PAGE; show(true); });
  }

  start();
})();
