/* What is heard, felt and asked at the bench: the alarm, its sound after a reload, presses that must be meant. */
"use strict";
shotbook.timers = (() => {
  const MEANT_MS = [400, 4000];
  const listeners = new Set();
  let sound, lock;

  /* A browser lets a page sound only after a touch, and forgets that at a reload: so each touch asks anew. */
  function unlock() {
    if (navigator.userActivation?.isActive === false || sound?.state === "running" || !window.AudioContext) return;
    try {
      sound ??= new AudioContext();
      sound.resume().then(() => listeners.forEach((tell) => tell()), () => {});
    } catch { /* no sound here */ }
  }
  for (const kind of ["pointerdown", "pointerup", "click", "keydown"]) addEventListener(kind, unlock, true);

  const audible = () => sound?.state === "running";

  /* Three tones and a buzz; where the browser refuses either, the page still flashes. */
  function alarm() {
    if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.([400, 150, 400, 150, 400]);
    if (!audible()) return;
    for (const start of [0, 0.5, 1]) {
      const tone = sound.createOscillator(), loud = sound.createGain();
      tone.frequency.value = 880;
      loud.gain.value = 0.3;
      tone.connect(loud).connect(sound.destination);
      tone.start(sound.currentTime + start);
      tone.stop(sound.currentTime + start + 0.3);
    }
  }

  async function keepAwake(wanted) {
    if (!wanted) {
      lock?.release().catch(() => {});
      lock = null;
    } else if (!lock || lock.released) {
      try { lock = await navigator.wakeLock?.request("screen"); } catch { /* the screen may sleep; the clock goes on */ }
    }
  }

  /* A press that must be meant: the first one asks, a second soon after acts. A bounce of the finger is no second. */
  function twice(button, question, act) {
    const since = Date.now() - Number(button.dataset.asked ?? 0);
    if (since < MEANT_MS[0]) return;
    if (since < MEANT_MS[1]) {
      delete button.dataset.asked;
      act();
      return;
    }
    const said = button.textContent;
    button.dataset.asked = Date.now();
    button.textContent = question;
    setTimeout(() => {
      if (button.textContent === question) button.textContent = said;
      delete button.dataset.asked;
    }, MEANT_MS[1]);
  }

  /* Seconds as a clock shows them; what is overdue has a minus. */
  function text(seconds) {
    const shown = Math.abs(seconds);
    return `${seconds < 0 ? "−" : ""}${Math.floor(shown / 60)}:${String(shown % 60).padStart(2, "0")}`;
  }

  return { alarm, audible, keepAwake, twice, text, heard: (tell) => listeners.add(tell) };
})();
