/* Units and light, remembered; the menu; numbers that follow plastisol and mold material. */
"use strict";
const shotbook = (() => {
  const root = document.documentElement;
  const { base } = document.currentScript.dataset;
  const words = (document.currentScript.dataset.words ?? "").split("|");
  const ORIGINS = { ᵐ: "m", ᶜ: "c", ᵈ: "d", ᵖ: "p" };
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

  /* Let the browser answer a touch between two pieces of work. */
  const breathe = () => new Promise((go) => { setTimeout(go); });

  async function takeAllApart() {
    const places = [...document.querySelectorAll("var")];
    while (places.length) {
      places.splice(0, 40).forEach(takeApart);
      await breathe();
    }
  }

  /* A figure as the pages write it, "38 mL (36–40) · 1.3 fl oz (1.2–1.4)ᶜ", taken apart: one element for each
     system, the range apart from the value, the letter of the origin raised. */
  function takeApart(place) {
    const [, line, letter] = place.textContent.match(/^(.*?)([ᵐᶜᵈᵖ]?)$/su);
    write(place, line.split(" · ").flatMap((part) => {
      const [, value, span] = part.match(/^(.*?)(?: \((.*)\))?$/su);
      return [value, span ?? ""];
    }));
    if (!letter) return;
    const raised = document.createElement("sup");
    raised.textContent = ORIGINS[letter];
    place.append(raised);
  }

  /* A figure's texts (see pagedata.shown) into their place; the letter of its origin stays. */
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
    const [metric, span, american, americanSpan] = texts, letter = place.querySelector("sup");
    place.replaceChildren(...(american === undefined ? part(metric, span)
      : [system("m", metric, span), " ", system("u", american, americanSpan)]));
    if (letter) place.append(letter);
  }

  /* A part of a sentence: text as it is, or a figure's texts. */
  function piece(part) {
    if (typeof part === "string") return document.createTextNode(part);
    const place = document.createElement("var");
    write(place, part);
    return place;
  }

  /* The switches of units and light, made here because they do nothing without scripts. */
  function switches() {
    const header = document.querySelector(".sb-header");
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
    box.append(group, button);
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

  /* The reader's own plastisol and mold material on a mold's page. */
  async function choose() {
    const form = document.querySelector(".sb-choose");
    if (!form) return;
    const data = await load(form.dataset.mold, `data/molds/${form.dataset.mold}.js`);
    const kept = [recall("plastisol"), recall("material")];
    for (const [name, named] of Object.entries(data.names)) {
      form.elements[name].append(...named.map(([id, text]) => new Option(text, id)));
    }
    form.elements.plastisol.value = data.a[kept[0]] ? kept[0] : data.own[0];
    form.elements.material.value = data.w[form.elements.plastisol.value][kept[1]] ? kept[1] : data.own[1];
    form.hidden = false;
    form.addEventListener("change", () => {
      remember("plastisol", form.elements.plastisol.value);
      remember("material", form.elements.material.value);
      follow(data, form.elements.plastisol, form.elements.material);
    });
    const own = form.elements.plastisol.value === data.own[0] && form.elements.material.value === data.own[1];
    if (!own) follow(data, form.elements.plastisol, form.elements.material); // the page is written for its own pair
    for (const work of [callouts, plots, tables, turn]) {
      await breathe();
      work(data);
    }
  }

  /* Callouts over the pictures: markup that the builder wrote. */
  function callouts(data) {
    for (const figure of document.querySelectorAll("[data-over]")) {
      const over = data.over[figure.dataset.over];
      const svg = document.createElementNS(SVG, "svg");
      svg.setAttribute("viewBox", `0 0 ${over.size.join(" ")}`);
      svg.setAttribute("aria-hidden", "true");
      svg.innerHTML = over.marks;
      svg.append(...over.words.map(label));
      figure.querySelector("img").after(svg);
    }
  }

  /* The drawings of each way. */
  function plots(data) {
    for (const place of document.querySelectorAll("[data-plots]")) {
      for (const drawing of data.plots[place.dataset.plots]) {
        const figure = document.createElement("figure");
        figure.className = "sb-plot";
        figure.innerHTML = drawing;
        place.append(figure);
      }
    }
  }

  function tables(data) {
    for (const table of document.querySelectorAll("[data-table]")) {
      table.hidden = false;
      for (const cells of data.tables[table.dataset.table]) {
        const row = table.tBodies[0].insertRow();
        cells.forEach((content, index) => {
          const cell = document.createElement(index ? "td" : "th");
          if (index) cell.dataset.head = table.tHead.rows[0].cells[index].textContent;
          else cell.scope = "row";
          cell.append(piece(content));
          row.append(cell);
        });
      }
    }
  }

  /* Looking round: its script is fetched only where there is something to turn. */
  function turn(data) {
    const figures = document.querySelectorAll("[data-turn]");
    if (!figures.length) return;
    for (const figure of figures) figure.dataset.turnWords = JSON.stringify(data.turn);
    const script = document.createElement("script"), style = document.createElement("link");
    [style.rel, style.href] = ["stylesheet", `${base}/assets/viewer.css`];
    script.src = `${base}/assets/viewer.js`;
    document.head.append(style, script);
  }

  /* A label: its name, and under it its figure, metric and US on a line each. */
  function label([name, figure, x, y, align]) {
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
    const own = plastisol.value === data.own[0] && material.value === data.own[1];
    for (const place of document.querySelectorAll("[data-own]")) place.hidden = !own;
    for (const place of document.querySelectorAll("[data-other]")) place.hidden = own;
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

  /* What is wider than the screen is moved with the keyboard too. */
  function scrollable() {
    for (const box of document.querySelectorAll(".md-typeset pre > code, .md-typeset > table")) {
      if (box.scrollWidth > box.clientWidth) box.tabIndex = 0;
    }
  }

  function card() {
    const button = document.querySelector("[data-print]");
    if (!button) return;
    button.hidden = false;
    button.addEventListener("click", () => print());
  }

  document.addEventListener("DOMContentLoaded", async () => {
    switches();
    menu();
    card();
    await takeAllApart();
    scrollable();
    await choose();
  });
  if (location.protocol.startsWith("http")) navigator.serviceWorker?.register(`${base}/sw.js`).catch(() => {});
  return {
    load, write, remember, recall, base,
    mold: (data) => asked[data.slug]?.done(data),
    index: (data) => asked.index?.done(data),
    colours: (data) => asked.colours?.done(data),
  };
})();
