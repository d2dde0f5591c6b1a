/* How much to measure for so many baits, and the recipe, worked out from the numbers of one shot. */
"use strict";
shotbook.batch = (() => {
  const MOST_BAITS = 1000;
  const MOST_SHOTS = 10;
  const language = document.querySelector(".sb-bench").closest("[lang]").lang;
  const times = (triple, factor) => triple.map((one) => one * factor);

  function amounts(numbers, cavities, baits, spare, remelt, ingredients) {
    const shots = Math.ceil(baits / cavities);
    let { one_ml, one_g } = numbers;
    if (spare !== null) {
      const spared = times(numbers.shot_g, 1 + spare);
      [one_ml, one_g] = [times(spared, one_ml[0] / one_g[0]), spared];
    }
    const heat_ml = times(one_ml, shots), fresh_ml = times(heat_ml, 1 - remelt);
    return {
      shots, heat_ml, fresh_ml, heat_g: times(one_g, shots), remelt_ml: times(heat_ml, remelt),
      ingredients: ingredients.map((one) => one.amount_per_100_ml * fresh_ml[0] / 100),
    };
  }

  /* A number of baits that can be made; null for nothing, none, half a bait or more than anybody shoots. */
  function count(text) {
    const number = Number(text.trim().replace(",", "."));
    return text.trim() !== "" && Number.isInteger(number) && number >= 1 && number <= MOST_BAITS ? number : null;
  }

  function recipe(form, data, colours) {
    const chosen = form.elements.colour.value;
    if (chosen.startsWith("own-")) return data.colours[Number(chosen.slice(4))].ingredients;
    return colours[chosen]?.ingredients ?? [];
  }

  /* Work the form out and put it into its places on the page; how many shots it is, or null. */
  function show(page, form, data, plastisol, colours, words) {
    const { baits, spare, remelt } = form.elements, asked = count(baits.value);
    const places = [["heat_ml", "ml"], ["heat_g", "g"], ["fresh_ml", "ml"], ["remelt_ml", "ml"]];
    for (const place of page.querySelectorAll("[data-remelt]")) place.hidden = remelt.value === "0";
    const told = page.querySelector("[data-baits]"), list = page.querySelector(".sb-recipe");
    baits.setAttribute("aria-invalid", asked === null);
    if (asked === null) {
      for (const place of page.querySelectorAll("[data-b]")) place.textContent = "–";
      told.textContent = words.baits_wrong;
      list.replaceChildren();
      return null;
    }
    const share = spare.value === "" ? null : Number(spare.value) / 100, ingredients = recipe(form, data, colours);
    const made = amounts(data.numbers[plastisol], data.cavities, asked, share, Number(remelt.value) / 100, ingredients);
    page.querySelector("[data-b=shots]").textContent = made.shots;
    for (const [name, unit] of places) {
      shotbook.write(page.querySelector(`[data-b=${name}]`), shotbook.figures.show(made[name], unit, language));
    }
    told.textContent = made.shots > MOST_SHOTS ? words.baits_many.replace("{shots}", made.shots) : "";
    list.replaceChildren(...ingredients.map((one, index) => item(one, made.ingredients[index], words)));
    return made.shots;
  }

  function item(one, value, words) {
    const made = document.createElement("li"), amount = document.createElement("b");
    const unit = one.unit === "drops" ? "count" : one.unit;
    const triple = unit === "count" ? Array(3).fill(Math.round(value)) : Array(3).fill(value);
    shotbook.write(amount, shotbook.figures.show(triple, unit, language));
    made.append(amount, one.unit === "drops" ? ` ${words.drops} ` : " ", one.what);
    return made;
  }

  return { amounts, count, recipe, show };
})();
