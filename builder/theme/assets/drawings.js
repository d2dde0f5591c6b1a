/* Drawings that a mold's data brings: marks and labels over its pictures, and plots. */
"use strict";
shotbook.drawings = (() => {
  const SVG = "http://www.w3.org/2000/svg";

  /* A drawing element by element: what is not on these lists is not drawn (builder/site/drawings.py has them too). */
  const SHAPES = new Set(["svg", "path", "circle", "rect", "polygon", "polyline", "text", "linearGradient", "stop"]);
  const SHAPED = new Set(["viewBox", "role", "aria-label", "class", "id", "d", "points", "text-anchor", "x", "y", "dx", "dy",
    "width", "height", "cx", "cy", "r", "offset", "stroke-width", "fill", "stroke", "stop-color"]);
  function drawing([name, attributes, ...inside]) {
    if (!SHAPES.has(name)) return "";
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) if (SHAPED.has(key)) made.setAttribute(key, value);
    made.append(...inside.map((one) => (Array.isArray(one) ? drawing(one) : one)));
    return made;
  }

  /* Callouts over the pictures. */
  function callouts(data) {
    for (const figure of document.querySelectorAll("[data-over]")) {
      const over = data.over[figure.dataset.over];
      const svg = document.createElementNS(SVG, "svg");
      svg.setAttribute("viewBox", `0 0 ${over.size.join(" ")}`);
      svg.setAttribute("aria-hidden", "true");
      svg.append(...over.marks.map(drawing), ...over.words.map(label));
      figure.querySelector("img").after(svg);
    }
  }

  /* The drawings of each way. */
  function plots(data) {
    for (const place of document.querySelectorAll("[data-plots]")) {
      for (const plot of data.plots[place.dataset.plots]) {
        const figure = Object.assign(document.createElement("figure"), { className: "sb-plot" });
        figure.append(drawing(plot));
        if (place.dataset.caption) {
          figure.append(Object.assign(document.createElement("figcaption"), { textContent: place.dataset.caption }));
        }
        place.append(figure);
      }
    }
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

  return { callouts, plots };
})();
