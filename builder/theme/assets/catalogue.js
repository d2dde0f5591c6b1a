/* Finding a mold: the list that stands in the page is narrowed and sorted from data/index.js. The address
   keeps what was asked, so that a search can be sent on. */
"use strict";
(() => {
  const form = document.querySelector(".sb-find"), cards = document.querySelector(".sb-cards");
  const words = JSON.parse(form.dataset.words), count = document.querySelector(".sb-count");
  const more = document.querySelector("[data-more]"), compare = document.querySelector("[data-compare]");
  const pager = document.querySelector(".sb-pager");
  const PAGE = 48;
  const US = { mm: ["in", 25.4], g: ["oz", 28.349523125], ml: ["fl oz", 29.5735295625] };
  const METRIC = { mm: "mm", g: "g", ml: "mL" };
  const chosen = new Set();
  let molds, shown = PAGE;

  const american = () => document.documentElement.dataset.units === "us";
  const value = (name) => form.elements[name].value.trim();

  /* A number typed in the units that the page shows, in the catalogue's own; null when there is none. */
  function typed(name, unit) {
    const number = Number(value(name).replace(",", "."));
    return value(name) === "" || Number.isNaN(number) ? null : number * (american() ? US[unit][1] : 1);
  }

  function plain(text) {
    return text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");
  }

  function found() {
    const asked = plain(value("q")).split(/\s+/).filter(Boolean);
    const between = (number, name, unit) => {
      const [low, high] = [typed(`${name}_from`, unit), typed(`${name}_to`, unit)];
      return (low === null || number >= low) && (high === null || number <= high);
    };
    const holds = typed("shot", "ml"), bed = [typed("bed_x", "mm"), typed("bed_y", "mm")].sort((a, b) => a - b);
    const fits = (sides) => {
      const [small, large] = [...sides].sort((a, b) => a - b);
      return (bed[0] === null || small <= bed[0]) && (bed[1] === null || large <= bed[1]);
    };
    const same = (name, one) => value(name) === "" || String(one) === value(name);
    return molds.filter((mold) => asked.every((word) => mold.text.includes(word))
      && between(mold.length, "length", "mm") && between(mold.weight, "weight", "g")
      && same("cavities", mold.cavities) && same("type", mold.type)
      && (value("target") === "" || mold.target.includes(value("target")))
      && (value("works") === "" || mold.works.includes(value("works")))
      && (holds === null || mold.shot <= holds) && fits(mold.bed));
  }

  function sorted(list) {
    const key = value("sort");
    const by = key === "title" ? (a, b) => a.title.localeCompare(b.title) : (a, b) => a[key] - b[key];
    return [...list].sort(by);
  }

  function element(name, text, attributes = {}) {
    const made = document.createElement(name);
    made.textContent = text;
    for (const [key, one] of Object.entries(attributes)) made.setAttribute(key, one);
    return made;
  }

  function card(mold) {
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
      pair.append(element("dt", words.facts[index]), told);
      facts.append(pair);
    });
    const label = element("label", ""), tick = element("input", "", { type: "checkbox" });
    tick.checked = chosen.has(mold.slug);
    tick.addEventListener("change", () => choose(mold.slug, tick));
    label.append(tick, ` ${words.compare}`);
    if (mold.stop) box.append(element("p", mold.stop, { class: "sb-stop" }));
    box.append(link, element("p", mold.by));
    if (mold.withdrawn) box.append(element("p", `${words.withdrawn} ${mold.withdrawn}`, { class: "sb-stop" }));
    box.append(facts, label);
    return box;
  }

  function choose(slug, tick) {
    if (tick.checked && chosen.size === 4) tick.checked = false;
    else if (tick.checked) chosen.add(slug);
    else chosen.delete(slug);
    compare.hidden = chosen.size < 2;
    compare.href = `${shotbook.page("compare")}#${[...chosen].join(",")}`;
  }

  function show() {
    const list = sorted(found());
    cards.replaceChildren(...list.slice(0, shown).map(card));
    count.textContent = words.found.replace("{found}", list.length).replace("{count}", molds.length);
    more.hidden = list.length <= shown;
    const asked = new URLSearchParams([...new FormData(form)].filter(([name, text]) => text && !(name === "sort" && text === "title")));
    history.replaceState(null, "", asked.size ? `#${asked}` : location.pathname + location.search);
  }

  function units() {
    for (const place of form.querySelectorAll("[data-unit]")) {
      place.textContent = american() ? US[place.dataset.unit][0] : METRIC[place.dataset.unit];
    }
  }

  function options(name, values, named = (one) => one) {
    form.elements[name].append(...[...new Set(values)].filter((one) => one !== "")
      .sort((a, b) => (typeof a === "number" ? a - b : named(a).localeCompare(named(b))))
      .map((one) => new Option(named(one), one)));
  }

  async function start() {
    molds = (await shotbook.load("index")).map((mold) => ({
      ...mold, text: plain([mold.title, mold.by, mold.type, mold.summary, ...mold.target].join(" ")),
    }));
    options("cavities", molds.map((mold) => mold.cavities));
    options("type", molds.map((mold) => mold.type));
    options("target", molds.flatMap((mold) => mold.target));
    options("works", molds.flatMap((mold) => mold.works), (id) => words.material[id] ?? id);
    for (const [name, text] of new URLSearchParams(location.hash.slice(1))) {
      const field = form.elements.namedItem(name);
      if (field) field.value = text;
      if (!["q", "sort"].includes(name)) form.querySelector("details").open = true;
    }
    form.hidden = false;
    if (pager) pager.hidden = true;
    units();
    show();
    form.addEventListener("input", () => { shown = PAGE; show(); });
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("reset", () => setTimeout(show));
    document.addEventListener("units", () => { if (form.isConnected) { units(); show(); } });
    for (const { slug, version, reason } of await shotbook.recalled) {
      const mold = molds.find((one) => one.slug === slug && one.version === version && !one.withdrawn);
      if (mold) { mold.withdrawn = reason; show(); }
    }
    more.addEventListener("click", () => { shown += PAGE; show(); });
  }

  start();
})();
