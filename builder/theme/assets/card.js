/* The shot card of the mold that the address names, or of the one last looked at. */
"use strict";
(async () => {
  const SHOTS = [1, 2, 3, 5, 10];
  const find = (selector) => document.querySelector(selector);
  const light = shotbook.recall("light");
  if (light) document.documentElement.dataset.light = light;
  const asked = shotbook.fragment() || shotbook.recall("mold");
  addEventListener("hashchange", () => location.reload());
  find("[data-print]").onclick = () => print();
  for (const form of document.forms) form.onsubmit = () => false;
  const molds = asked ? await shotbook.load("index").catch(() => []) : [];
  const slug = molds.find((mold) => mold.slug === asked)?.slug;
  if (!slug) return;
  const data = await shotbook.load(`molds/${slug}`).catch(() => null);
  if (!data) return;

  function place(key) {
    const cell = document.createElement("td"), figure = document.createElement("var");
    figure.dataset.n = key;
    cell.append(figure);
    return cell;
  }

  document.title = `${data.title} · ${document.title}`;
  find("h1").textContent = data.title;
  const code = Object.assign(new Image(96, 96), { src: `cards/${slug}.svg`, alt: find("header").dataset.code });
  find("header").append(code);
  find("[data-address]").textContent = find("[data-leads]").dataset.leads.replace("%", slug);
  find("[data-leads]").hidden = false;
  Object.assign(find("[data-page]"), { href: shotbook.page(`molds/${slug}`), textContent: data.title });
  find("[data-cavities]").textContent = data.cavities;
  find("[data-version]").textContent = data.version;
  find("[data-hold]").hidden = data.kind === "open pour";
  for (const part of document.querySelectorAll("[data-kind]")) part.hidden = part.dataset.kind !== data.kind;
  find("[data-eye]").hidden = !data.eye;
  if (data.eye) shotbook.write(find("[data-n=eye]"), data.eye);
  const most = data.a[data.own[0]].batch.length;
  for (const baits of SHOTS.map((shots) => shots * data.cavities).filter((baits) => baits <= most)) {
    const row = find(".batch tbody").insertRow(), head = document.createElement("th");
    [head.scope, head.textContent] = ["row", baits];
    row.append(head, place(`a.batch.${baits - 1}.0`), place(`a.batch.${baits - 1}.1`));
  }
  const form = find(".pick");
  form.dataset.mold = slug;
  find(".none").hidden = true;
  shotbook.withdrawn(data).then((found) => {
    if (!found) return;
    find("[data-withdrawn]").textContent = shotbook.withdrawal(found);
    find("[data-withdrawn]").hidden = false;
    find(".card").remove();
  });
  await shotbook.choose(form);
  if (find(".card")) find(".card").hidden = Boolean(data.withdrawn);
})();
