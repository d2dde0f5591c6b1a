/* Two to four molds side by side; the address keeps which. */
"use strict";
(() => {
  const page = document.querySelector(".sb-compare");
  const form = page.querySelector("form"), table = page.querySelector("table");
  const picks = [1, 2, 3, 4].map((n) => form.elements[`mold${n}`]);

  function reach(found, path) {
    return path.split(".").reduce((at, key) => at?.[key], found);
  }

  async function show() {
    const slugs = picks.map((pick) => pick.value).filter(Boolean);
    history.replaceState(null, "", `#${slugs.join(",")}`);
    const molds = await Promise.all(slugs.map((slug) => shotbook.load(`molds/${slug}`)));
    table.hidden = !molds.length;
    table.style.setProperty("--molds", molds.length);
    const head = table.tHead.rows[0];
    for (const row of [head, ...table.tBodies[0].rows]) while (row.cells.length > 1) row.lastElementChild.remove();
    for (const data of molds) {
      const plastisol = form.elements.plastisol.value || data.own[0];
      const found = { ...data, a: data.a[plastisol], w: data.w[plastisol]?.[form.elements.material.value || data.own[1]] };
      head.append(title(data, found.w?.stop, plastisol === data.own[0] && found.w === data.w[data.own[0]][data.own[1]]));
      for (const row of table.tBodies[0].rows) {
        const texts = reach(found, row.dataset.path), cell = row.insertCell();
        if (Array.isArray(texts)) shotbook.write(cell, texts); else cell.textContent = texts ?? "–";
      }
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

  async function start() {
    const molds = await shotbook.load("index");
    const asked = shotbook.fragment().split(",");
    picks.forEach((pick, index) => {
      pick.append(...molds.map((mold) => new Option(mold.title, mold.slug)));
      if (molds.some((mold) => mold.slug === asked[index])) pick.value = asked[index];
    });
    for (const name of ["plastisol", "material"]) form.elements[name].value = "";
    form.hidden = false;
    form.addEventListener("change", show);
    show();
  }

  addEventListener("hashchange", () => {
    if (!page.isConnected) return;
    const asked = shotbook.fragment().split(",");
    picks.forEach((pick, index) => { pick.value = asked[index] ?? ""; });
    show();
  });
  start();
})();
