/* Look round a mold: WebGL 2 over the data that pictures/turntable.py writes. Without it the picture stays.
   Everything is reached by sliders, so by keyboard and with gloves; nothing moves by itself. */
"use strict";
(() => {
  const STILL = { turn: -18, tilt: 50, open: 100, near: 100 };
  const LIMITS = { turn: [-180, 180], tilt: [-90, 90], open: [0, 100], near: [60, 400] };
  const LINE_PX = 18;
  const VERTEX = `#version 300 es
    in vec3 place; in vec3 normal; in vec3 colour;
    uniform mat3 view; uniform vec3 middle; uniform float lift; uniform vec2 scale; uniform float deep;
    out vec3 tone; out vec3 facing;
    void main() {
      vec3 at = view * (place + vec3(0, 0, lift) - middle);
      facing = view * normal; tone = colour;
      gl_Position = vec4(at.xy * scale, -at.z * deep, 1);
    }`;
  const FRAGMENT = `#version 300 es
    precision highp float;
    in vec3 tone; in vec3 facing; out vec4 light;
    void main() {
      vec3 n = normalize(facing);
      float lamp = max(dot(n, normalize(vec3(-.55, .75, .75))), 0.);
      vec3 linear = pow(tone, vec3(2.2)) * (.56 + .2 * n.y + .6 * lamp);
      light = vec4(pow(linear, vec3(1. / 2.2)), 1);
    }`;

  /* -- data ------------------------------------------------------------------------------------- */

  async function load(file) {
    const script = await shotbook.run(`molds/${file}`);
    script.remove();
    return window.shotbookTurn;
  }

  async function inflate(text) {
    const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  }

  function unpack(head, bytes) {
    let at = 0;
    const next = () => {
      let value = 0, shift = 1, byte;
      do { byte = bytes[at++]; value += (byte & 127) * shift; shift *= 128; } while (byte & 128);
      return value;
    };
    return head.pieces.map((piece) => {
      const points = new Float32Array(3 * piece.points), corners = new Uint32Array(3 * piece.faces);
      for (let axis = 0; axis < 3; axis++) {
        let sum = 0;
        for (let i = 0; i < piece.points; i++) {
          const code = next();
          sum += code & 1 ? -(code + 1) / 2 : code / 2;
          points[3 * i + axis] = head.low[axis] + sum * head.step;
        }
      }
      let newest = 0;
      for (let i = 0; i < corners.length; i++) {
        corners[i] = newest - next();
        if (corners[i] === newest) newest++;
      }
      const colours = new Uint8Array(piece.faces);
      let from = 0;
      for (let runs = next(); runs > 0; runs--) {
        const colour = next(), length = next();
        colours.fill(colour, from, from += length);
      }
      return { ...piece, points, corners, colours };
    });
  }

  /* Corners with normals that are round over flat edges and sharp over creases; 28 bytes a corner.
     A facet as slim as the rounding has no normal of its own: it takes that of its largest neighbour. */
  function spread(piece, table, step) {
    const { points, corners, colours } = piece;
    const flat = new Float32Array(corners.length), unit = new Float32Array(corners.length);
    const size = new Float32Array(corners.length / 3), slim = new Uint8Array(corners.length / 3);
    for (let f = 0; f < corners.length; f += 3) {
      const [a, b, c] = [3 * corners[f], 3 * corners[f + 1], 3 * corners[f + 2]];
      const [ux, uy, uz] = [points[b] - points[a], points[b + 1] - points[a + 1], points[b + 2] - points[a + 2]];
      const [vx, vy, vz] = [points[c] - points[a], points[c + 1] - points[a + 1], points[c + 2] - points[a + 2]];
      const n = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
      const length = Math.hypot(...n) || 1;
      const edge = Math.max(Math.hypot(ux, uy, uz), Math.hypot(vx, vy, vz), Math.hypot(ux - vx, uy - vy, uz - vz));
      size[f / 3] = length;
      slim[f / 3] = length < 4 * step * edge;
      for (let k = 0; k < 3; k++) { flat[f + k] = n[k]; unit[f + k] = n[k] / length; }
    }
    const count = points.length / 3;
    const start = new Uint32Array(count + 1), around = new Uint32Array(corners.length);
    for (const corner of corners) start[corner + 1]++;
    for (let i = 0; i < count; i++) start[i + 1] += start[i];
    const free = start.slice();
    corners.forEach((corner, i) => { around[free[corner]++] = i - i % 3; });
    const floats = new Float32Array(7 * corners.length), bytes = new Uint8Array(floats.buffer);
    corners.forEach((corner, i) => {
      let f = i - i % 3;
      const sum = [0, 0, 0];
      if (slim[f / 3]) {
        for (let j = start[corner]; j < start[corner + 1]; j++) if (size[around[j] / 3] > size[f / 3]) f = around[j];
      }
      for (let j = start[corner]; j < start[corner + 1]; j++) {
        const g = around[j];
        if (unit[f] * unit[g] + unit[f + 1] * unit[g + 1] + unit[f + 2] * unit[g + 2] > 0.85) {
          for (let k = 0; k < 3; k++) sum[k] += flat[g + k];
        }
      }
      floats.set(points.subarray(3 * corner, 3 * corner + 3), 7 * i);
      const length = Math.hypot(...sum) || 1;
      floats.set(sum.map((value) => value / length), 7 * i + 3);
      bytes.set(table[colours[(i - i % 3) / 3]], 28 * i + 24);
    });
    return floats;
  }

  /* -- drawing ---------------------------------------------------------------------------------- */

  function program(gl) {
    const made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(made, shader);
    }
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
    return made;
  }

  function stage(gl, head, pieces) {
    const made = program(gl);
    const table = head.colours.map((colour) => [1, 3, 5].map((i) => parseInt(colour.slice(i, i + 2), 16)).concat(255));
    const bodies = pieces.map((piece) => {
      const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
      for (let i = 0; i < piece.points.length; i++) {
        low[i % 3] = Math.min(low[i % 3], piece.points[i]);
        high[i % 3] = Math.max(high[i % 3], piece.points[i]);
      }
      const array = gl.createVertexArray();
      gl.bindVertexArray(array);
      gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ARRAY_BUFFER, spread(piece, table, head.step), gl.STATIC_DRAW);
      [["place", 3, gl.FLOAT, false, 0], ["normal", 3, gl.FLOAT, false, 12], ["colour", 3, gl.UNSIGNED_BYTE, true, 24]]
        .forEach(([name, size, type, share, offset]) => {
          const slot = gl.getAttribLocation(made, name);
          gl.enableVertexAttribArray(slot);
          gl.vertexAttribPointer(slot, size, type, share, 28, offset);
        });
      return { array, low, high, count: piece.corners.length, lift: piece.lift, role: piece.role };
    });
    const { size } = boxRound(bodies, 0);
    return {
      gl, bodies, gap: 0.9 * Math.min(size[0], size[1]), top: Math.max(...bodies.map((body) => body.lift)),
      set: Object.fromEntries(["view", "middle", "lift", "scale", "deep"].map((n) => [n, gl.getUniformLocation(made, n)])),
      made,
    };
  }

  /* Middle and size of the box round bodies that are drawn apart by a gap. */
  function boxRound(bodies, gap) {
    const edges = (name, most) => [0, 1, 2].map((k) => most(...bodies.map((body) => body[name][k] + (k === 2 ? body.lift * gap : 0))));
    const low = edges("low", Math.min), high = edges("high", Math.max);
    return { middle: low.map((value, k) => (value + high[k]) / 2), size: low.map((value, k) => high[k] - value) };
  }

  const shown = { all: () => true, plastic: (body) => body.role !== "part", bait: (body) => body.role === "bait" };

  function draw(scene, state) {
    const { gl, set } = scene, canvas = gl.canvas;
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const wide = Math.round(canvas.clientWidth * ratio), high = Math.round(canvas.clientHeight * ratio);
    if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
    const gap = scene.gap * state.open / 100, bodies = scene.bodies.filter(shown[state.show]);
    const { middle, size } = boxRound(bodies, gap);
    const [a, e] = [state.turn * Math.PI / 180, state.tilt * Math.PI / 180];
    const [ca, sa, ce, se] = [Math.cos(a), Math.sin(a), Math.cos(e), Math.sin(e)];
    const radius = Math.hypot(...size) / 2 * 90 / state.near;
    const fit = 1 / (radius * Math.max(1, 1 / (1.15 * wide / high)));
    gl.viewport(0, 0, wide, high);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.useProgram(scene.made);
    gl.uniformMatrix3fv(set.view, false, [ca, -sa * se, sa * ce, sa, ca * se, -ca * ce, 0, ce, se]);
    gl.uniform3f(set.middle, ...middle);
    gl.uniform2f(set.scale, fit * high / wide, fit);
    gl.uniform1f(set.deep, 0.5 / Math.hypot(...size));
    for (const body of bodies) {
      gl.uniform1f(set.lift, body.lift * gap);
      gl.bindVertexArray(body.array);
      gl.drawArrays(gl.TRIANGLES, 0, body.count);
    }
    const plastic = scene.bodies.find((body) => body.role === "bait")?.lift ?? 0;
    return ([px, py, pz]) => {
      const [x, y, z] = [px - middle[0], py - middle[1], pz + plastic * gap - middle[2]];
      const [right, up] = [ca * x + sa * y, -sa * se * x + ca * se * y + ce * z];
      return [(1 + right * fit * high / wide) / 2 * canvas.clientWidth, (1 - up * fit) / 2 * canvas.clientHeight];
    };
  }

  /* -- page ------------------------------------------------------------------------------------- */

  function element(name, properties, ...inside) {
    const made = Object.assign(document.createElement(name), properties);
    made.append(...inside);
    return made;
  }

  function controls(words, state, changed) {
    const sliders = {};
    const box = element("div", { className: "sb-turn-box" });
    for (const [name, [min, max]] of Object.entries(LIMITS)) {
      const slider = element("input", { type: "range", min, max, step: 1, value: state[name] });
      slider.oninput = () => changed({ [name]: Number(slider.value) });
      sliders[name] = slider;
      box.append(element("label", {}, element("span", { textContent: words[name] }), slider));
    }
    const show = element("select", {});
    for (const name of ["all", "plastic", "bait"]) show.append(element("option", { value: name, textContent: words[name] }));
    show.onchange = () => changed({ show: show.value });
    box.append(element("label", {}, element("span", { textContent: words.show }), show));
    box.append(element("p", { className: "sb-turn-keys", textContent: words.keys }));
    return { box, sliders };
  }

  function keys(event, state) {
    const step = event.shiftKey ? 30 : 5;
    const moves = {
      ArrowLeft: { turn: state.turn - step }, ArrowRight: { turn: state.turn + step },
      ArrowUp: { tilt: state.tilt + step }, ArrowDown: { tilt: state.tilt - step },
      "+": { near: state.near * 1.15 }, "-": { near: state.near / 1.15 }, Home: { ...STILL },
    };
    return moves[event.key];
  }

  /* One finger, or the mouse, turns and tilts; two fingers come nearer and go away. */
  function drag(canvas, state, changed) {
    const fingers = new Map();
    const apart = () => {
      const [one, other] = [...fingers.values()];
      return Math.hypot(one[0] - other[0], one[1] - other[1]);
    };
    canvas.onpointerdown = (event) => {
      canvas.setPointerCapture(event.pointerId);
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
    };
    canvas.onpointermove = (event) => {
      const from = fingers.get(event.pointerId);
      if (!from) return;
      const before = fingers.size === 2 ? apart() : 0;
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
      if (fingers.size === 1) changed({ turn: state.turn - (event.clientX - from[0]) * 0.5, tilt: state.tilt + (event.clientY - from[1]) * 0.5 });
      if (before) changed({ near: state.near * apart() / before });
    };
    canvas.onpointerup = canvas.onpointercancel = (event) => fingers.delete(event.pointerId);
    canvas.onwheel = (event) => {
      if (!event.ctrlKey) return; // a plain wheel moves the page; with Ctrl, and so by a touch pad's pinch, it comes nearer
      event.preventDefault();
      changed({ near: state.near * Math.exp(-event.deltaY / 200) });
    };
  }

  /* Names of places over the drawing: each a dot in the plastic, with its name beside it. */
  function marking(box, marks) {
    const made = marks.map(([name]) => element("span", { className: "sb-mark" }, element("b", { textContent: name })));
    box.append(...made);
    return (at, hidden) => {
      const placed = marks.map(([, place], index) => [made[index], ...at(place)]).sort((a, b) => a[2] - b[2]);
      let below = -Infinity;
      for (const [mark, x, y] of placed) { // names keep a line's distance from each other, dots stay where they are
        below = Math.max(y, below + LINE_PX);
        mark.hidden = hidden;
        mark.style.left = `${x}px`;
        mark.style.top = `${y}px`;
        mark.style.setProperty("--down", `${below - y}px`);
        mark.classList.toggle("sb-mark--left", x > box.clientWidth * 0.6);
      }
    };
  }

  function within(name, value) {
    const [min, max] = LIMITS[name];
    if (name === "turn") return ((value + 180) % 360 + 360) % 360 - 180;
    return Math.min(max, Math.max(min, value));
  }

  async function start(figure, button, words) {
    const still = [...figure.querySelectorAll("img, svg")];
    const canvas = element("canvas", { tabIndex: 0, className: "sb-turn" });
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", `${figure.querySelector("img").alt} ${words.keys}`);
    const gl = canvas.getContext("webgl2", { antialias: true, alpha: true });
    const head = await load(figure.dataset.turn);
    const scene = stage(gl, head, unpack(head, await inflate(head.data)));
    const state = { ...STILL, show: "all" };
    let waiting = false;
    const changed = (news) => {
      for (const [name, value] of Object.entries(news)) state[name] = name in LIMITS ? within(name, value) : value;
      for (const [name, slider] of Object.entries(panel.sliders)) slider.value = state[name];
      if (!waiting) requestAnimationFrame(() => { waiting = false; paint(); });
      waiting = true;
    };
    const stand = element("div", { className: "sb-turn-stand" }, canvas), mark = marking(stand, words.marks);
    const paint = () => mark(draw(scene, state), state.show === "bait" && scene.bodies.filter((body) => body.role === "bait").length > 1);
    const panel = controls(words, state, changed);
    if (!scene.top) panel.sliders.open.parentElement.hidden = true;
    const again = element("button", { type: "button", className: "sb-button", textContent: words.reset });
    again.onclick = () => changed({ ...STILL });
    const back = element("button", { type: "button", className: "sb-button", textContent: words.stop });
    const ends = element("p", { className: "sb-actions" }, again, back);
    const stop = () => {
      watch.disconnect();
      for (const made of [stand, panel.box, ends]) made.remove();
      for (const one of still) one.hidden = false;
      button.hidden = false;
      button.focus();
    };
    back.onclick = stop;
    canvas.addEventListener("webglcontextlost", stop);
    for (const box of [stand, panel.box, ends]) {
      box.addEventListener("keydown", (event) => { if (event.key === "Escape") stop(); });
    }
    canvas.onkeydown = (event) => {
      const move = keys(event, state);
      if (move) { event.preventDefault(); changed(move); }
    };
    drag(canvas, state, changed);
    for (const one of still) one.hidden = true;
    button.hidden = true;
    button.before(stand, panel.box, ends);
    const watch = new ResizeObserver(() => changed({}));
    watch.observe(canvas);
    canvas.focus();
    paint();
  }

  const able = "DecompressionStream" in window && document.createElement("canvas").getContext("webgl2");
  for (const figure of able ? document.querySelectorAll("[data-turn]") : []) {
    const words = JSON.parse(figure.dataset.turnWords);
    const button = element("button", { type: "button", className: "sb-button sb-turn-start", textContent: words.start });
    button.onclick = () => {
      button.disabled = true;
      start(figure, button, words).catch((error) => {
        button.replaceWith(element("p", { textContent: words.failed }));
        console.warn(error.message);
      }).finally(() => { button.disabled = false; });
    };
    figure.append(button);
  }
})();
