/* Units and light, remembered; the menu; numbers that follow plastisol and mold material. */
"use strict";
var shotbook = (() => { // a site that exchanges its pages without loading them anew runs this again
  const tag = document.currentScript, { takenBack: WITHDRAWN } = tag.dataset;
  const root = document.documentElement;
  const base = tag.dataset.base.replace(/\/$/, "");
  const here = location.pathname, home = new URL(`${base || "."}/`, location.href).href.replace(/\/$/, "");
  /* The way to the site's own files, also while a site is exchanging this page for another. */
  const way = () => (location.pathname === here ? base : home);
  const words = (tag.dataset.words ?? "").split("|");
  const within = document.querySelector(".sb-book") ?? document; // on another's site only what is ours
  const origins = {};
  const asked = new Map();
  const NAME = "[a-z0-9]+(?:-[a-z0-9]+)*";
  const OWN = new RegExp(`^(?:sw|assets/(?:viewer|drawings|figures|finding|catalogue|compare|batch|timers|bench)|data/(?:index|colours|molds/${NAME}(?:/v\\d+(?:\\.\\d+){0,2})?)|molds/${NAME}/${NAME}-turn)\\.js$`);

  function remember(name, value) {
    try { localStorage.setItem(`shotbook.${name}`, value); } catch { /* a browser that keeps nothing still shows everything */ }
  }
  function recall(name) {
    try { return localStorage.getItem(`shotbook.${name}`); } catch { return null; }
  }

  /* The only way to the address of a script. What a builder writes has one of these forms, a file to download
     has none; names of molds come from what the page carries or from data/index.js, never from an address. */
  function ours(path) {
    if (!OWN.test(path)) throw new TypeError(`${path} is no script of this site`);
    return `${way()}/${path}`;
  }
  const trusted = window.trustedTypes?.createPolicy("shotbook", { createScriptURL: ours }) ?? { createScriptURL: ours };

  /* The address of a page, which has an ending on some sites and a folder on others. */
  const page = (path) => `${base}/${path}${"folders" in tag.dataset ? "/" : ".html"}`;

  function run(path) {
    return new Promise((done, failed) => {
      const script = document.createElement("script");
      script.src = trusted.createScriptURL(path);
      script.onload = () => done(script);
      script.onerror = () => failed(new Error(`${path} could not be loaded`));
      document.head.append(script);
    });
  }

  /* Load a data script once, "index", "colours" or "molds/SLUG"; it calls shotbook.mold or another, which
     settles the promise. */
  function load(name) {
    if (!asked.has(name)) {
      const wait = {};
      asked.set(name, wait);
      wait.promise = new Promise((done, failed) => {
        wait.done = done;
        run(`data/${name}.js`).catch((error) => { asked.delete(name); failed(error); }); // asked again, tried again
      });
    }
    return asked.get(name).promise;
  }

  /* What stands after the # of the address; nothing when it is no text. */
  function fragment() {
    try { return decodeURIComponent(location.hash.slice(1)); } catch { return ""; }
  }

  /* The plastisol and the mold material to show of a mold: what is wished for where it has that, else its own. */
  function pair(data, { plastisol, material }) {
    const found = Object.hasOwn(data.a, plastisol ?? "") ? plastisol : data.own[0];
    return [found, Object.hasOwn(data.w[found], material ?? "") ? material : data.own[1]];
  }

  const isOwn = (data, plastisol, material) => plastisol === data.own[0] && material === data.own[1];

  /* Withdrawn versions, asked past every cache: a page that was kept may be older. Nothing without a network
     and a worker that kept the list, nor from a folder. */
  const recalled = !location.protocol.startsWith("http") ? Promise.resolve([])
    : fetch(`${base}/data/withdrawn.json`, { cache: "no-store" }).then((answer) => (answer.ok ? answer.json() : [])).catch(() => []);

  /* Number and reason of a version that was withdrawn: as its data knows it, or as the list does. */
  async function withdrawn({ slug, version, withdrawn: known }) {
    if (known) return known;
    const listed = (await recalled).find((one) => one.slug === slug && one.version === version);
    return listed && [listed.version, listed.reason];
  }

  const withdrawal = ([version, reason]) => WITHDRAWN.replace(/\{(\w+)\}/g, (_, name) => (name === "version" ? version : reason));

  /* A mold's or a version's page that does not know of its withdrawal yet. */
  async function takeBack(form, frozen) {
    const [slug, version] = form ? [form.dataset.mold, form.dataset.version] : frozen.dataset.callouts.split("/v");
    const found = await withdrawn({ slug, version });
    if (!found || within.querySelector(".sb-withdrawn")) return;
    const told = element("p", withdrawal(found));
    told.className = "sb-stop sb-withdrawn";
    within.querySelector("h1").after(told);
    for (const one of within.querySelectorAll("a[download]")) one.closest("li, p").remove();
  }

  /* Let the browser answer a touch between two pieces of work. */
  const breathe = () => new Promise((go) => { setTimeout(go); });

  async function takeAllApart() {
    const places = [...within.querySelectorAll("var")];
    while (places.length) {
      places.splice(0, 40).forEach(takeApart);
      await breathe();
    }
  }

  /* A figure as the pages write it, "38 mL (36–40) · 1.3 fl oz (1.2–1.4)", taken apart: one element for each
     system, the range apart from the value. */
  function takeApart(place) {
    write(place, place.dataset.origin ? [place.textContent] : place.textContent.split(" · ").flatMap((part) => {
      const [, value, span] = part.match(/^(.*?)(?: \((.*)\))?$/su);
      return [value, span ?? ""];
    }));
  }

  /* A figure's texts (see pagedata.shown) into their place. Its title tells the origin: it stays unless the
     texts have a letter of their own, and is kept aside while words are told instead of a figure. */
  function write(place, texts) {
    const part = (value, span) => {
      return span ? [value, element("i", ` (${span})`)] : [value];
    };
    const system = (name, value, span) => {
      const element = document.createElement("span");
      element.className = name;
      element.append(...part(value, span));
      return element;
    };
    const told = texts.length > 1 && texts.length % 2, known = place.title || place.dataset.origin;
    const [metric, span, american, americanSpan] = told ? texts.slice(0, -1) : texts;
    place.replaceChildren(...(american === undefined ? part(metric, span)
      : [system("m", metric, span), " ", system("u", american, americanSpan)]));
    if (!known) return;
    for (const name of ["title", "data-origin"]) place.removeAttribute(name);
    place.setAttribute(texts.length === 1 ? "data-origin" : "title", told ? origins[texts.at(-1)] : known);
  }

  /* A part of a sentence: text as it is, or a figure's texts, the letter of its origin last if it is told. */
  function piece(part) {
    if (typeof part === "string") return document.createTextNode(part);
    const place = document.createElement("var");
    if (part.length % 2) place.title = origins[part.at(-1)];
    write(place, part);
    return place;
  }

  /* A sentence with names in braces, filled with text and figures by name. */
  const sentence = (text, values) => text.split(/\{(\w+)\}/).map((part, index) => piece(index % 2 ? values[part] : part));

  function element(name, ...content) {
    const made = document.createElement(name);
    made.append(...content);
    return made;
  }

  /* The switches of units and light, made here because they do nothing without scripts. */
  function switches() {
    const header = document.querySelector(".sb-header, .sb-bar");
    if (!header) return;
    const [legend, metric, us, both, light] = words;
    const box = document.createElement("div"), group = document.createElement("fieldset");
    [box.className, group.className] = ["sb-switches", "sb-units"];
    group.append(Object.assign(document.createElement("legend"), { textContent: legend }));
    for (const [value, text] of [["metric", metric], ["us", us], ["both", both]]) {
      const label = document.createElement("label"), name = document.createElement("span");
      const input = Object.assign(document.createElement("input"), { type: "radio", name: "units", value });
      input.checked = value === (root.dataset.units || "both");
      input.addEventListener("change", () => {
        root.dataset.units = value;
        remember("units", value);
        document.dispatchEvent(new CustomEvent("units"));
      });
      name.textContent = text;
      label.append(input, name);
      group.append(label);
    }
    const button = Object.assign(document.createElement("button"), { type: "button", className: "sb-light", title: light, textContent: "◐" });
    button.setAttribute("aria-label", light);
    button.addEventListener("click", () => {
      const dark = root.dataset.light ? root.dataset.light === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
      root.dataset.light = dark ? "light" : "dark";
      remember("light", root.dataset.light);
    });
    box.append(group, ...(header.matches(".sb-header") ? [button] : [])); // another's site has its own switch
    header.append(box);
  }

  function menu() {
    const details = document.querySelector(".sb-menu");
    details?.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !details.open) return;
      details.open = false;
      details.querySelector("summary").focus();
    });
  }

  /* What the address asks for by name: a choice goes on with a link, and never to another mold by itself. */
  const wished = (name) => new URLSearchParams(location.search).get(name);
  const wish = () => ({ plastisol: wished("plastisol"), material: wished("material") });

  /* The choice into the address, and into the links to this mold's other pages; the maker's own leaves none. */
  function carry(pair) {
    const wanted = pair ? `?${new URLSearchParams(pair)}` : "";
    if (location.search !== wanted) history.replaceState(null, "", `${location.pathname}${wanted}${location.hash}`);
    for (const link of document.querySelectorAll("a[data-pair]")) {
      const [path, place] = link.getAttribute("href").split("#");
      link.setAttribute("href", `${path.split("?")[0]}${wanted}${place ? `#${place}` : ""}`);
    }
  }

  /* The reader's own plastisol and mold material. */
  async function choose(form) {
    const data = await load(`molds/${form.dataset.mold}`);
    const { plastisol, material } = form.elements;
    for (const [name, named] of Object.entries(data.names)) {
      form.elements[name].replaceChildren(...named.map(([id, text]) => new Option(text, id)));
    }
    [plastisol.value, material.value] = pair(data, wish());
    form.onchange = () => follow(data, plastisol, material);
    tables(data);
    columns();
    if (!isOwn(data, plastisol.value, material.value) || "all" in form.dataset) follow(data, plastisol, material); // a page is written for the mold's own pair
    form.hidden = false;
    const { callouts, plots } = shotbook.drawings ?? {}; // the card draws nothing
    for (const work of [callouts, plots, turn]) {
      await breathe();
      work?.(data);
    }
  }

  /* Tables that the page leaves to its data: heading, columns, rows. */
  function tables(data) {
    for (const place of document.querySelectorAll("[data-table]")) {
      const made = data.tables[place.dataset.table];
      if (!made) continue;
      const table = element("table"), body = table.createTBody();
      const heads = made.heads.map((text) => Object.assign(element("th", text), { scope: "col" }));
      table.createTHead().append(element("tr", ...heads));
      body.append(...made.rows.map(row));
      if (made.at) table.className = "sb-batch";
      made.at?.forEach((at, index) => { body.rows[index].dataset.row = at; });
      const head = element("h3", made.head), lead = made.lead ? [element("p", made.lead)] : [];
      if (!made.fold) place.append(head, ...lead, table);
      else {
        place.append(Object.assign(element("details", element("summary", head), ...lead, table), { className: "sb-fold" }));
      }
    }
  }

  function row(cells) {
    const [first, ...others] = cells.map((parts) => parts.map(piece));
    const head = Object.assign(element("th", ...first), { scope: "row" });
    return element("tr", head, ...others.map((parts) => element("td", ...parts)));
  }

  /* On a narrow screen each cell tells its column itself. */
  function columns() {
    for (const table of document.querySelectorAll(".sb-part table")) {
      const heads = [...table.tHead.rows[0].cells].map((cell) => cell.firstChild.textContent);
      for (const { cells } of table.tBodies[0].rows) {
        for (let index = 1; index < cells.length; index += 1) cells[index].dataset.head = heads[index];
      }
    }
  }

  /* What may go wrong, the likeliest first, its cure open; and the chances of all in figures. */
  function troubles(data, pair) {
    const items = pair.troubles.map(([, code, values, word], index) => {
      const chance = Object.assign(element("span", word), { className: "sb-chance" });
      const head = element("summary", element("b", ...sentence(data.sentences[code], values)), " ", chance);
      const cure = element("p", ...sentence(data.sentences[`${code}_cure`], values));
      return element("li", Object.assign(element("details", head, cure), { className: "sb-fold", open: index === 0 }));
    });
    document.querySelector("[data-wrong]")?.replaceChildren(...items);
    document.querySelector("[data-chances]")?.replaceChildren(...pair.troubles.map(([chance, code, values]) =>
      element("div", element("dt", ...sentence(data.sentences[code], values)), element("dd", piece(chance)))));
  }

  /* Looking round: its script is fetched only where there is something to turn. */
  function turn(data) {
    const figures = document.querySelectorAll("[data-turn]");
    if (!figures.length) return;
    for (const figure of figures) figure.dataset.turnWords = JSON.stringify(data.turn);
    document.head.append(Object.assign(document.createElement("link"), { rel: "stylesheet", href: `${way()}/assets/viewer.css` }));
    run("assets/viewer.js").catch(() => {});
  }

  /* Why the pair that is chosen must not be shot, before anything else; the maker's reason with the own pair. */
  function stops(data, pair, own) {
    for (const place of document.querySelectorAll("[data-stopped]")) place.hidden = !pair.stop;
    for (const place of document.querySelectorAll("[data-stop]")) place.replaceChildren(...told(pair.stop ?? []));
    for (const place of document.querySelectorAll("[data-despite]")) {
      place.hidden = !own || !data.despite;
      place.textContent = data.despite;
    }
  }

  const told = (parts) => parts.map(piece);

  function follow(data, plastisol, material) {
    const found = { a: data.a[plastisol.value], w: data.w[plastisol.value][material.value] };
    for (const place of document.querySelectorAll("[data-n]")) {
      const texts = place.dataset.n.split(".").reduce((at, key) => at?.[key], found);
      if (texts) write(place, texts);
    }
    for (const row of document.querySelectorAll("[data-row]")) {
      found.a.batch[row.dataset.row].forEach((texts, index) => write(row.cells[2 + index].firstChild, texts));
    }
    for (const place of document.querySelectorAll("[data-t]")) {
      const select = place.dataset.t === "plastisol" ? plastisol : material;
      place.textContent = select.selectedOptions[0].textContent;
    }
    const own = isOwn(data, plastisol.value, material.value);
    carry(own ? null : { plastisol: plastisol.value, material: material.value });
    stops(data, found.w, own);
    for (const place of document.querySelectorAll("[data-own]")) place.hidden = !own;
    for (const place of document.querySelectorAll("[data-other]")) place.hidden = own;
    for (const place of document.querySelectorAll("[data-shut]")) place.hidden = Boolean(found.w.point);
    for (const place of document.querySelectorAll("[data-open]")) place.hidden = !found.w.point;
    for (const list of document.querySelectorAll("[data-findings]")) {
      const shown = found.w.findings.filter(([level]) => (level === "note") === (list.dataset.findings === "note"));
      list.replaceChildren(...shown.map(([level, code, values]) =>
        Object.assign(element("li", ...sentence(data.sentences[code], values)), { className: `sb-${level}` })));
    }
    troubles(data, found.w);
  }

  /* A link to something folded opens it; what is reference is open on paper. */
  function unfold() {
    const place = document.getElementById(fragment());
    let fold = place?.closest("details:not([open])");
    if (!fold) return;
    for (; fold; fold = fold.parentElement.closest("details")) fold.open = true;
    place.scrollIntoView();
  }

  function folds() {
    addEventListener("hashchange", unfold);
    addEventListener("beforeprint", () => {
      for (const fold of document.querySelectorAll(".sb-reference")) fold.open = true;
    });
    unfold();
  }

  /* What is wider than the screen is moved with the keyboard too. */
  function scrollable() {
    for (const box of document.querySelectorAll(".md-typeset pre > code, .md-typeset > table")) {
      if (box.scrollWidth > box.clientWidth) box.tabIndex = 0;
    }
  }

  /* On another's site: the units, and pictures whose addresses hold when the site changes its own beneath them. */
  function settle() {
    root.dataset.units = recall("units") ?? "both";
    for (const image of within.querySelectorAll("img[srcset]")) {
      image.srcset = image.srcset.replace(/[^\s,]+(?= \d+w)/g, (address) => new URL(address, location.href));
    }
  }

  async function start() {
    for (const name of tag.dataset.then?.split(" ") ?? []) await run(`assets/${name}.js`);
    if (within !== document) settle();
    switches();
    menu();
    folds();
    const form = document.querySelector(".sb-choose"), frozen = document.querySelector("[data-callouts]");
    if (form || frozen) takeBack(form, frozen);
    await takeAllApart();
    scrollable();
    if (form) await choose(form);
    if (frozen) columns();
    if (frozen) shotbook.drawings.callouts(await load(`molds/${frozen.dataset.callouts}`));
  }

  if (tag.defer || document.readyState === "loading") document.addEventListener("DOMContentLoaded", start);
  else start();
  if ("worker" in tag.dataset && location.protocol.startsWith("http")) {
    navigator.serviceWorker?.register(trusted.createScriptURL("sw.js"), { updateViaCache: "none" }).catch(() => {});
  }
  return {
    load, run, fragment, wished, wish, pair, isOwn, carry, recalled, withdrawn, withdrawal, choose, write, told, stops, remember, recall, base, page,
    mold: (data) => {
      Object.assign(origins, data.origins);
      asked.get(`molds/${data.slug}`)?.done(data);
    },
    index: (data) => asked.get("index")?.done(data),
    colours: (data) => asked.get("colours")?.done(data),
  };
})();
