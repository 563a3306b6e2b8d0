// The reader's paper: the given line, what the reader has put in over it, and below each sonority how it stands.

const PRINTED = 10; // sonorities in a system on printed paper
const onPaper = matchMedia("print");
const MARKS = { good: "✓", error: "✕", warning: "~", open: "" };

/** The paper of an exercise: `draw` shows a view of the work, `placeOf` says where on the paper a finger has come down.
 * A view has the work, the sonority `n` and the voice the reader is at, whether at the `second` note of the two, whether
 * to `compare` with ours, notes to hint at, and how each sonority stands (`states`). */
function createPaper(exercise, player, attributes) {
  const paper = el("div", { class: "verset-paper", tabindex: 0, role: "application", ...attributes });
  const sign = (pitch) => (pitch[1] === exercise.signature[pitch[0] % 7] ? "" : SIGN[pitch[1]]);
  let view = null;

  function drawLine(svg, event, x) {
    for (const note of exercise.line) {
      if (note.at < event.at || note.at >= event.at + event.length) continue;
      // Passing notes of the line stand between two sonorities.
      const along = x + ((note.at - event.at) / event.length) * (COLUMN - FIRST);
      const drawn = drawNote(along, note.pitch[0], note.length, { up: false, sign: sign(note.pitch), id: note.id });
      svg.append(drawn);
      const elsewhere = (player.music.notes.get(note.id) ?? []).filter((each) => each.isConnected && !paper.contains(each));
      player.music.notes.set(note.id, [...elsewhere, drawn]);
    }
  }

  function drawOurs(svg, at, voice, x, up) {
    const ours = exercise.ours[voice][at];
    if (!ours || samePitch(ours, view.work[voice][at])) return;
    const note = drawNote(x, ours[0], exercise.events[at].length, { up, sign: sign(ours), id: "" });
    note.classList.add("verset-ours");
    svg.append(note);
  }

  function drawMine(svg, at, voice, x, up) {
    const { work, n, second } = view;
    const event = exercise.events[at];
    const pitch = work[voice][at];
    if (!pitch) return;
    const then = secondTone(work, at, voice);
    const put = (tone, from, length, id, chosen) => {
      const note = drawNote(from, tone[0], length, { up, sign: sign(tone), id });
      note.classList.toggle("verset-chosen", at === n && voice === view.voice && chosen);
      svg.append(note);
      player.music.notes.set(id, [note]);
    };
    put(pitch, x, then ? event.half : event.length, `mine-${voice}-${at}`, !second);
    if (then) put(then, x + SECOND, event.length - event.half, `mine-${voice}-${at}-2`, second);
    const before = at > Number(svg.dataset.first) && event.joined ? lateToneAt(exercise, work, at - 1, voice) : null;
    if (!samePitch(before, pitch)) return;
    const back = secondTone(work, at - 1, voice) ? COLUMN - SECOND : COLUMN;
    const y = lineY(pitch[0]) + (up ? -8 : 8);
    svg.append(svgEl("path", { class: "verset-lines", d: `M${x - back + 9} ${y}q${back / 2 - 9} ${up ? -7 : 7} ${back - 18} 0` }));
  }

  function drawBelow(svg, at, x) {
    exercise.events[at].figure.forEach((figure, k) => {
      const text = svgEl("text", { class: "verset-figure", x, y: lineY(LOW) + 18 + k * 13, "text-anchor": "middle" });
      text.textContent = figure.replace("#", "♯").replace("b", "♭").replace("n", "♮");
      svg.append(text);
    });
    const state = view.states[at];
    const mark = svgEl("text", { class: `verset-mark is-${state}`, x, y: SHEET_HEIGHT - 6, "text-anchor": "middle" });
    mark.textContent = MARKS[state];
    svg.append(mark);
  }

  function drawColumn(svg, at, x) {
    const event = exercise.events[at];
    const here = at === view.n;
    svg.append(svgEl("rect", { class: here ? "verset-column is-here" : "verset-column", x: x - FIRST, y: 2, width: COLUMN, height: SHEET_HEIGHT - 4 }));
    drawLine(svg, event, x);
    event.upper.forEach((voice, k) => {
      const up = k % 2 === 0;
      if (view.compare) drawOurs(svg, at, voice, x, up);
      drawMine(svg, at, voice, x, up);
    });
    for (const { pitch } of here ? view.hints : []) {
      svg.append(svgEl("ellipse", { class: "verset-may", cx: x, cy: lineY(pitch[0]), rx: 9, ry: 4 }));
    }
    drawBelow(svg, at, x);
  }

  function drawSystem(first, last) {
    const width = HEAD + (last - first + 1) * COLUMN;
    const svg = svgEl("svg", { class: "verset-system", width, height: SHEET_HEIGHT, viewBox: `0 0 ${width} ${SHEET_HEIGHT}`, "data-first": first, "data-last": last, "aria-hidden": "true" });
    for (let at = first; at <= last; at++) drawColumn(svg, at, HEAD + (at - first) * COLUMN + FIRST);
    drawStaves(svg, width);
    for (let at = first; at <= last; at++) {
      const next = exercise.events[at + 1];
      if (next && next.bar === exercise.events[at].bar) continue;
      const x = HEAD + (at - first + 1) * COLUMN;
      svg.append(svgEl("path", { class: "verset-lines", d: `M${x} ${lineY(38)}V${lineY(18)}` }));
    }
    return svg;
  }

  /** The clefs, which stay in sight while the rest is moved. */
  function drawHead() {
    const svg = svgEl("svg", { class: "verset-head", width: HEAD - FIRST, height: SHEET_HEIGHT, "aria-hidden": "true" });
    drawStaves(svg, HEAD - FIRST);
    return svg;
  }

  /** Show a view of the work; without one the last again. On the screen it is one line that moves sideways, so that
   * the verdict and the controls stay near; printed paper has it in systems. */
  function draw(shown = view) {
    view = shown;
    const count = exercise.events.length;
    const room = onPaper.matches ? PRINTED : count;
    const systems = [];
    for (let first = 0; first < count; first += room) systems.push(drawSystem(first, Math.min(count - 1, first + room - 1)));
    const left = paper.scrollLeft;
    paper.replaceChildren(drawHead(), ...systems);
    paper.scrollLeft = left;
    see(view.n);
  }

  /** Bring a sonority into sight, with the one after it. */
  function see(at) {
    if (at < 0 || onPaper.matches) return;
    const left = at * COLUMN;
    const right = HEAD + (at + 2) * COLUMN - paper.clientWidth;
    if (paper.scrollLeft > left) paper.scrollLeft = left;
    else if (paper.scrollLeft < right) paper.scrollLeft = Math.min(left, right);
  }

  /** The sonority under a pointer, whether the pointer is at the later half of it, and the staff step; null outside. */
  function placeOf(event) {
    const svg = event.target.closest("svg");
    if (!svg) return null;
    const box = svg.getBoundingClientRect();
    const x = event.clientX - box.left - HEAD;
    const column = Math.floor(x / COLUMN);
    const at = Number(svg.dataset.first) + column;
    if (column < 0 || at > Number(svg.dataset.last)) return null;
    return {
      at,
      late: x > column * COLUMN + FIRST + SECOND / 2,
      step: ROOF + HIGH - Math.round((event.clientY - box.top) / STEP),
    };
  }

  onPaper.addEventListener("change", () => view && draw());
  return { element: paper, draw, see, placeOf };
}
