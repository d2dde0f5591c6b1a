/* Which molds fit what is asked: words with slips of the finger, sizes in any unit, chips, numbers between two. */
"use strict";
shotbook.finding = (() => {
  const MM = { mm: 1, cm: 10, in: 25.4 };
  const UNIT = { '"': "in", "″": "in", inch: "in", inches: "in", zoll: "in", in: "in", mm: "mm", cm: "cm" };
  const SIZE = /(\d+(?:[.,]\d+)?)\s*(?:-\s*)?("|″|inch(?:es)?\b|in\b|zoll\b|mm\b|cm\b)/g;
  const NEAR = 0.125; // "4 inch" is any bait of 3.5 to 4.5 in
  const STEPS = { mm: [50, 75, 100, 125], in: [2, 3, 4, 5] };

  const plain = (text) => text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");

  /* What a search asks for: lengths in mm, and the other words. */
  function asked(text) {
    const lengths = [];
    const rest = plain(text).replace(SIZE, (_, number, unit) => {
      lengths.push(Number(number.replace(",", ".")) * MM[UNIT[unit]]);
      return " ";
    });
    return { lengths, words: rest.split(/[\s,;]+/).filter(Boolean) };
  }

  /* Whether a word becomes another by as many slips as its length allows: a letter lost, added, wrong or swapped. */
  function near(word, other) {
    const most = word.length < 4 ? 0 : word.length < 8 ? 1 : 2;
    if (Math.abs(word.length - other.length) > most) return false;
    let before = [], row = Array.from({ length: other.length + 1 }, (_, i) => i);
    for (let i = 1; i <= word.length; i++) {
      const next = [i];
      for (let j = 1; j <= other.length; j++) {
        const same = word[i - 1] === other[j - 1];
        next[j] = Math.min(row[j] + 1, next[j - 1] + 1, row[j - 1] + (same ? 0 : 1));
        if (i > 1 && j > 1 && word[i - 1] === other[j - 2] && word[i - 2] === other[j - 1]) {
          next[j] = Math.min(next[j], before[j - 2] + 1);
        }
      }
      [before, row] = [row, next];
    }
    return row[other.length] <= most;
  }

  /* The steps of bait length for chips, in mm, and what is written on them. */
  function sizes(american) {
    const unit = american ? "in" : "mm", steps = STEPS[unit];
    return [0, ...steps].map((low, index) => {
      const high = steps[index];
      const name = !low ? `< ${high} ${unit}` : high ? `${low}–${high} ${unit}` : `≥ ${low} ${unit}`;
      return { value: `${low}${unit}`, name, low: low * MM[unit], high: (high ?? Infinity) * MM[unit] };
    });
  }

  /* Words of the molds that hold a word, or become it by slips of the finger; each is looked for once. */
  const known = new WeakMap(), meantBy = new WeakMap();
  function slips(word, molds) {
    if (!known.has(molds)) {
      known.set(molds, [...new Set(molds.flatMap((mold) => mold.words))]);
      meantBy.set(molds, new Map());
    }
    const found = meantBy.get(molds);
    if (!found.has(word)) found.set(word, new Set(known.get(molds).filter((one) => one.includes(word) || near(word, one))));
    return found.get(word);
  }

  /* A test for the words of a search: as they stand, and only if nothing has them, with slips of the finger. */
  function wording(text, molds) {
    const { lengths, words } = asked(text);
    const long = (mold) => lengths.every((mm) => Math.abs(mold.length - mm) <= NEAR * mm);
    if (molds.some((mold) => words.every((word) => mold.text.includes(word)))) {
      return (mold) => long(mold) && words.every((word) => mold.text.includes(word));
    }
    const meant = words.map((word) => slips(word, molds));
    return (mold) => long(mold) && meant.every((some) => mold.words.some((one) => some.has(one)));
  }

  /* The molds in the order of their names, each with its place in it and its words to be searched. */
  function prepared(molds) {
    const { compare } = new Intl.Collator();
    return [...molds].sort((a, b) => compare(a.title, b.title)).map((mold, rank) => {
      const text = plain([mold.title, mold.by, mold.type, mold.summary, ...mold.target].join(" "));
      return { ...mold, rank, text, words: [...new Set(text.split(/[^\p{L}\p{N}]+/u).filter(Boolean))] };
    });
  }

  /* Molds that pass all tests; and for each test by name those that pass all others, for the counts on its chips. */
  function sieve(molds, tests) {
    const names = Object.keys(tests), left = [], but = Object.fromEntries(names.map((name) => [name, []]));
    for (const mold of molds) {
      const failed = names.filter((name) => !tests[name](mold));
      if (!failed.length) left.push(mold);
      if (failed.length === 1) but[failed[0]].push(mold);
    }
    for (const name of names) but[name].push(...left);
    return { left, but };
  }

  return { prepared, wording, sizes, sieve, near, asked };
})();
