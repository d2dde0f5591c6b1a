/* Words in all pages, from the index that MkDocs' search plugin writes. From a folder no script may read it. */
"use strict";
(() => {
  const { root, words } = document.currentScript.dataset;
  const [label, none] = words.split("|"), header = document.querySelector(".sb-header");
  if (!header || !location.protocol.startsWith("http")) return;
  const MOST = 8;
  let index;

  const plain = (text) => text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");
  const read = () => {
    index ??= fetch(`${root}/search/search_index.json`).then((answer) => answer.json())
      .then(({ docs }) => docs.map(({ location: place, title, text }) => ({ place, title, name: plain(title), text: plain(text) })));
    return index;
  };

  /* How well a page answers: a word in its title tells more than one in its text; each word must be somewhere. */
  function worth(page, asked) {
    const each = asked.map((word) => (page.name.startsWith(word) ? 4 : page.name.includes(word) ? 3 : page.text.includes(word) ? 1 : 0));
    return each.includes(0) ? 0 : each.reduce((sum, one) => sum + one, page.place.includes("#") ? 0 : 1);
  }

  const form = document.createElement("form"), field = document.createElement("input"), list = document.createElement("ul");
  Object.assign(form, { className: "sb-search", role: "search" });
  Object.assign(field, { type: "search", placeholder: label, autocomplete: "off" });
  field.setAttribute("aria-label", label);
  list.setAttribute("aria-live", "polite");
  list.hidden = true;
  form.append(field, list);

  async function show() {
    const asked = plain(field.value).split(/\s+/).filter(Boolean);
    const pages = asked.length ? await read() : [];
    const found = pages.map((page) => [worth(page, asked), page]).filter(([value]) => value).sort(([a], [b]) => b - a);
    list.replaceChildren(...found.slice(0, MOST).map(([, { place, title }]) => {
      const item = document.createElement("li");
      item.append(Object.assign(document.createElement("a"), { href: `${root}/${place}`, textContent: title }));
      return item;
    }));
    if (asked.length && !found.length) list.append(Object.assign(document.createElement("li"), { textContent: none }));
    list.hidden = !asked.length;
  }

  form.addEventListener("input", () => { show().catch(() => { list.hidden = true; }); });
  form.addEventListener("submit", (event) => { event.preventDefault(); list.querySelector("a")?.click(); });
  form.addEventListener("keydown", ({ key }) => { if (key === "Escape") list.hidden = true; });
  form.addEventListener("focusout", ({ relatedTarget }) => { if (!form.contains(relatedTarget)) list.hidden = true; });
  header.append(form);
})();
