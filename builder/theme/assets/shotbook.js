/* Units and light, remembered; the menu; numbers that follow plastisol and mold material. */
"use strict";
const shotbook = (() => {
  const root = document.documentElement;
  const base = document.currentScript.dataset.base;
  const SVG = "http://www.w3.org/2000/svg";
  const asked = {};

  function remember(name, value) {
    try { localStorage.setItem(name, value); } catch { /* a browser that keeps nothing still shows everything */ }
  }
  function recall(name) {
    try { return localStorage.getItem(name); } catch { return null; }
  }

  /* Load a data script once; it calls shotbook.mold or shotbook.index, which settles the promise. */
  function load(name, path) {
    if (!asked[name]) {
      asked[name] = {};
      asked[name].promise = new Promise((done, failed) => {
        asked[name].done = done;
        const script = document.createElement("script");
        script.src = `${base}/${path}`;
        script.onerror = () => failed(new Error(`${path} could not be loaded`));
        document.head.append(script);
      });
    }
    return asked[name].promise;
  }

  /* A figure's texts (see pagedata.shown) as the pages write them. */
  function write(place, texts) {
    const part = (value, span) => {
      const pieces = [document.createTextNode(span ? `${value} ` : value)];
      if (span) {
        const range = document.createElement("i");
        range.textContent = `(${span})`;
        pieces.push(range);
      }
      return pieces;
    };
    const system = (name, value, span) => {
      const element = document.createElement("span");
      element.className = name;
      element.append(...part(value, span));
      return element;
    };
    const [metric, span, american, americanSpan] = texts;
    place.replaceChildren(...(american === undefined ? part(metric, span)
      : [system("m", metric, span), " ", system("u", american, americanSpan)]));
  }

  /* A part of a sentence: text as it is, or a figure's texts. */
  function piece(part) {
    if (typeof part === "string") return document.createTextNode(part);
    const place = document.createElement("span");
    write(place, part);
    return place;
  }

  function units() {
    const switches = document.querySelector(".sb-switches");
    if (!switches) return;
    switches.hidden = false;
    for (const input of switches.querySelectorAll("[name=units]")) {
      input.checked = input.value === (root.dataset.units || "both");
      input.addEventListener("change", () => {
        root.dataset.units = input.value;
        remember("units", input.value);
        document.dispatchEvent(new CustomEvent("units"));
      });
    }
    switches.querySelector(".sb-light").addEventListener("click", () => {
      const dark = root.dataset.light ? root.dataset.light === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
      root.dataset.light = dark ? "light" : "dark";
      remember("light", root.dataset.light);
    });
  }

  function menu() {
    const details = document.querySelector(".sb-menu");
    details?.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !details.open) return;
      details.open = false;
      details.querySelector("summary").focus();
    });
  }

  /* The reader's own plastisol and mold material on a mold's page. */
  async function choose() {
    const form = document.querySelector(".sb-choose");
    if (!form) return;
    const data = await load(form.dataset.mold, `data/molds/${form.dataset.mold}.js`);
    const kept = [recall("plastisol"), recall("material")];
    form.elements.plastisol.value = data.a[kept[0]] ? kept[0] : data.own[0];
    form.elements.material.value = data.w[form.elements.plastisol.value][kept[1]] ? kept[1] : data.own[1];
    form.hidden = false;
    draw(data);
    form.addEventListener("change", () => {
      remember("plastisol", form.elements.plastisol.value);
      remember("material", form.elements.material.value);
      follow(data, form.elements.plastisol, form.elements.material);
    });
    follow(data, form.elements.plastisol, form.elements.material);
  }

  /* Callouts over the pictures, and the drawings of each way: markup that the builder wrote. */
  function draw(data) {
    for (const figure of document.querySelectorAll("[data-over]")) {
      const over = data.over[figure.dataset.over];
      const svg = document.createElementNS(SVG, "svg");
      svg.setAttribute("viewBox", `0 0 ${over.size.join(" ")}`);
      svg.setAttribute("aria-hidden", "true");
      svg.innerHTML = over.marks;
      svg.append(...over.words.map(words));
      figure.querySelector("img").after(svg);
    }
    const place = document.querySelector("[data-ways]");
    for (const way of place ? data.ways : []) {
      const figure = document.createElement("figure");
      figure.className = "sb-plot";
      figure.innerHTML = way;
      place.append(figure);
    }
  }

  /* A label: its name, and under it its figure, metric and US on a line each. */
  function words([name, figure, x, y, align]) {
    const text = document.createElementNS(SVG, "text");
    text.setAttribute("text-anchor", align);
    text.setAttribute("y", y);
    const [metric, , american] = figure;
    const lines = [[name, ""], [metric, american && "m"], [american, "u"]];
    for (const [line, system] of lines.filter(([line]) => line)) {
      const span = document.createElementNS(SVG, "tspan");
      span.textContent = line;
      if (system) span.setAttribute("class", system);
      span.setAttribute("x", x);
      if (text.childNodes.length) span.setAttribute("dy", 42);
      text.append(span);
    }
    return text;
  }

  function follow(data, plastisol, material) {
    const found = { a: data.a[plastisol.value], w: data.w[plastisol.value][material.value] };
    for (const place of document.querySelectorAll("[data-n]")) {
      const texts = place.dataset.n.split(".").reduce((at, key) => at?.[key], found);
      if (texts) write(place, texts);
    }
    for (const row of document.querySelectorAll("[data-row]")) {
      found.a.batch[row.dataset.row].forEach((texts, index) => write(row.cells[2 + index], texts));
    }
    for (const place of document.querySelectorAll("[data-t]")) {
      const select = place.dataset.t === "plastisol" ? plastisol : material;
      place.textContent = select.selectedOptions[0].textContent;
    }
    for (const place of document.querySelectorAll("[data-shut]")) place.hidden = Boolean(found.w.point);
    for (const place of document.querySelectorAll("[data-open]")) place.hidden = !found.w.point;
    const list = document.querySelector("[data-findings]");
    list?.replaceChildren(...found.w.findings.map(([level, ...parts]) => {
      const item = document.createElement("li");
      item.className = `sb-${level}`;
      item.append(...parts.map(piece));
      return item;
    }));
  }

  function card() {
    const button = document.querySelector("[data-print]");
    if (!button) return;
    button.hidden = false;
    button.addEventListener("click", () => print());
  }

  document.addEventListener("DOMContentLoaded", () => { units(); menu(); choose(); card(); });
  if (location.protocol.startsWith("http")) navigator.serviceWorker?.register(`${base}/sw.js`).catch(() => {});
  return {
    load, write, remember, recall, base,
    mold: (data) => asked[data.slug]?.done(data),
    index: (data) => asked.index?.done(data),
    colours: (data) => asked.colours?.done(data),
  };
})();
