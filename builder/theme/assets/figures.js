/* Numbers to text as builder/units.py writes them; tests/browser holds the two together. */
"use strict";
shotbook.figures = (() => {
  const SYMBOLS = { ml: ["mL", "fl oz", 29.5735295625], g: ["g", "oz", 28.349523125], count: ["", "", 1] };
  const MOST = 3;

  /* As many decimals as leave so many significant digits after rounding. */
  function decimals(value, digits) {
    if (value === 0) return 0;
    return Math.max(0, digits - 1 - Number(value.toExponential(digits - 1).split("e")[1]));
  }

  /* A half between two numbers goes to the even one, as in Python. */
  function fixed(value, places) {
    const text = value.toFixed(places);
    const exact = value.toFixed(Math.min(places + 40, 100));
    if (!/^50*$/.test(exact.slice(exact.indexOf(".") + 1 + places))) return text;
    const down = exact.slice(0, places ? exact.indexOf(".") + 1 + places : exact.indexOf("."));
    return Number(down.at(-1)) % 2 ? text : down;
  }

  function number(value, places, language) {
    const [whole, rest] = fixed(value, places).split(".");
    const apart = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") : whole;
    return rest ? `${apart}${language === "de" ? "," : "."}${rest}` : apart;
  }

  /* More decimals than anything is measured to only where nothing else would show. */
  function enough(value, wanted) {
    if (value === 0 || Number(value.toFixed(MOST)) !== 0) return Math.min(MOST, wanted);
    return Number(value.toFixed(MOST + 2)) === 0 ? 0 : decimals(value, 1);
  }

  function system([value, low, high], symbol, language) {
    const wide = Math.abs(high - low) > 0.2 * Math.abs(value);
    const whole = symbol === "" && [value, low, high].every(Number.isInteger);
    const places = whole ? 0 : enough(value, decimals(value, wide ? 2 : 3));
    const [main, least, most] = [value, low, high].map((one) => number(one, places, language));
    return [symbol ? `${main}\u00a0${symbol}` : main, least === main && most === main ? "" : `${least}–${most}`];
  }

  /* [value, low, high] to what shotbook.write takes. */
  function show(triple, unit, language) {
    const [metric, american, factor] = SYMBOLS[unit];
    const first = system(triple, metric, language);
    return metric === american ? first : [...first, ...system(triple.map((one) => one * (1 / factor)), american, language)];
  }

  return { show };
})();
