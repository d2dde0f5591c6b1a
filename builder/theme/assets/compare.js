/* Two to four molds side by side; the address keeps which, and for which plastisol and mold material. */
"use strict";
(() => {
  const page = document.querySelector(".sb-compare");
  const form = page.querySelector("form"), table = page.querySelector("table");
  const { plastisol, material, only } = form.elements;
  const picks = [1, 2, 3, 4].map((n) => form.elements[`mold${n}`]);

  function reach(found, path) {
    return path.split(".").reduce((at, key) => at?.[key], found);
  }

  function keep(slugs) {
    const choice = new URLSearchParams([["plastisol", plastisol.value], ["material", material.value]].filter(([, id]) => id));
    history.replaceState(null, "", `${location.pathname}${choice.size ? `?${choice}` : ""}#${slugs.join(",")}`);
  }

  async function show() {
    const slugs = picks.map((pick) => pick.value).filter(Boolean);
    keep(slugs);
    const molds = await Promise.all(slugs.map((slug) => shotbook.load(`molds/${slug}`)));
    table.hidden = !molds.length;
    for (const row of table.rows) while (row.cells.length > 1) row.lastElementChild.remove();
    for (const group of table.querySelectorAll(".sb-group th")) group.colSpan = molds.length + 1;
    for (const row of table.querySelectorAll("[data-poured]")) row.cells[0].textContent = label(row.dataset, molds);
    for (const data of molds) column(data);
    for (const row of table.querySelectorAll("[data-path]")) {
      const told = new Set([...row.cells].slice(1).map((cell) => cell.textContent));
      row.toggleAttribute("data-same", molds.length > 1 && told.size === 1);
      row.toggleAttribute("data-differs", told.size > 1);
    }
  }

  /* A shut mold is shot and an open one poured; of both kinds the row has both names. */
  function label({ shot, poured }, molds) {
    const open = molds.filter((data) => data.kind === "open pour").length;
    return !open ? shot : open === molds.length ? poured : `${shot} / ${poured}`;
  }

  function column(data) {
    const chosen = plastisol.value || data.own[0];
    const found = { ...data, a: data.a[chosen], w: data.w[chosen]?.[material.value || data.own[1]] };
    table.tHead.rows[0].append(title(data, found.w?.stop, chosen === data.own[0] && found.w === data.w[data.own[0]][data.own[1]]));
    for (const row of table.querySelectorAll("[data-path]")) {
      const texts = reach(found, row.dataset.path), cell = row.insertCell();
      cell.dataset.head = data.title;
      if (Array.isArray(texts)) shotbook.write(cell, texts); else cell.textContent = texts ?? "–";
    }
  }

  function title(data, stop, own) {
    const cell = document.createElement("th"), link = document.createElement("a");
    if (stop) {
      const box = document.createElement("p");
      box.className = "sb-stop";
      box.append(...shotbook.told(stop), own && data.despite ? ` ${data.despite}` : "");
      cell.append(box);
    }
    cell.scope = "col";
    link.href = shotbook.page(`molds/${data.slug}`);
    link.textContent = data.title;
    cell.append(link);
    shotbook.withdrawn(data).then((found) => {
      if (found) cell.append(Object.assign(document.createElement("p"), { className: "sb-stop", textContent: shotbook.withdrawal(found) }));
    });
    return cell;
  }

  /* What the address asks for; what it does not know of stays as the makers chose. */
  function arrive() {
    const slugs = shotbook.fragment().split(",");
    picks.forEach((pick, index) => { pick.value = slugs[index] ?? ""; });
    for (const field of [plastisol, material]) {
      field.value = shotbook.wished(field.name) ?? "";
      if (field.selectedIndex < 0) field.value = "";
    }
    for (const pick of picks) if (pick.selectedIndex < 0) pick.value = "";
    show();
  }

  async function start() {
    const molds = await shotbook.load("index");
    for (const pick of picks) pick.append(...molds.map((mold) => new Option(mold.title, mold.slug)));
    form.hidden = false;
    form.addEventListener("change", ({ target }) => {
      if (target === only) table.toggleAttribute("data-only", only.checked); else show();
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    addEventListener("hashchange", () => { if (page.isConnected) arrive(); });
    arrive();
  }

  start();
})();
