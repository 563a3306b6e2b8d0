// The reader's paper: the given line and what the reader has put in over it, on two staves as the book has them, and
// below each sonority how it stands.

const MARKS = { good: "✓", error: "✕", warning: "~", open: "" };
const TOP = 50; // of the upper stave's highest line
const BETWEEN = 78; // from the upper stave to the lower
const UNDER = 30; // from the lower stave to the figures, or from the lowest note where that is lower
const PRINTED = 680; // width of a printed system
const ROW = 17; // of figures

/** The paper of an exercise: `draw` shows a view of the work, `placeOf` says where on the paper a finger has come down.
 * A view has the work, the sonority `n` and the voice the reader is at, whether at the `second` note of the two, whether
 * to `compare` with ours, notes to hint at, and how each sonority stands (`states`). */
function createPaper(exercise, player, judged, attributes) {
  defineGlyphs(window.versetGlyphs);
  const paper = el("div", { class: "verset-paper", tabindex: 0, role: "application", ...attributes }, judged);
  const upper = makeStave("G", TOP + 4 * SPACE);
  const lower = makeStave("F", TOP + 8 * SPACE + BETWEEN);
  const staves = [upper, lower];
  const rows = Math.max(1, ...exercise.events.map((event) => event.figure.length));
  const barOf = (time) => exercise.bars.findLast((bar) => bar[1] <= time) ?? exercise.bars[0];
  const handOf = (voice, time) => (barOf(time)[3].includes(voice) ? upper : lower);
  let view = null;
  let systems = [];
  let printing = false;

  // Notes

  /** All notes of the view as they are written, bar by bar: cut at bar lines into values, with ties. */
  function written() {
    const notes = exercise.line.map((note) => ({
      ...note, onset: note.at, key: note.id, ids: [note.id], step: note.pitch[0], alter: note.pitch[1], given: true,
    }));
    for (const voice of exercise.voices) {
      for (const held of heldNotes(exercise, view.work, voice)) {
        const pieces = writtenPieces(held.onset, held.length, exercise.bars);
        pieces.forEach((piece, k) => {
          const own = held.pieces.filter(({ onset }) => (k === 0 || onset >= piece.onset) && onset < piece.onset + piece.size);
          const ids = own.length ? own.map(({ id }) => id) : [held.pieces.findLast(({ onset }) => onset <= piece.onset).id];
          notes.push({
            voice, ids, key: `${voice} ${piece.onset}`, onset: piece.onset, at: piece.onset, length: piece.size,
            step: held.pitch[0], alter: held.pitch[1], continued: k > 0, tied: k + 1 < pieces.length,
          });
        });
      }
    }
    const open = new Set();
    for (const note of notes.filter((each) => each.given)) {
      note.continued = open.has(note.voice);
      open[note.tied ? "add" : "delete"](note.voice);
    }
    for (const note of notes) {
      note.stave = handOf(note.voice, note.onset);
      note.bar = barOf(note.onset)[0];
    }
    // The highest voice first, as the engraver reads them.
    return notes.sort((a, b) => exercise.order.indexOf(a.voice) - exercise.order.indexOf(b.voice));
  }

  /** Stems and what stands aside: one voice of a stave is free, of several the lowest has its stems down. */
  function arrange(notes) {
    for (const stave of staves) {
      for (const [number] of exercise.bars) {
        const here = notes.filter((note) => note.stave === stave && note.bar === number);
        const voices = exercise.order.filter((voice) => here.some((note) => note.voice === voice));
        for (const note of here) {
          note.up = voices.length === 1 ? note.step < stave.low + 4 : note.voice !== voices.at(-1);
          note.aside = 0;
        }
        for (const note of here.filter((each) => !each.up)) {
          const meets = here.filter((each) => each.up && each.onset === note.onset && voices.length > 1);
          const close = meets.some(({ step, length }) => step < note.step || step - note.step === 1 || (step === note.step && headOf(noteValue(length).base) !== headOf(noteValue(note.length).base)));
          if (close) note.aside = glyphWidth(headOf(noteValue(note.length).base)) - 1;
        }
      }
    }
  }

  function signsOf(notes) {
    const found = new Map();
    for (const stave of staves) {
      const bars = exercise.bars.map(([number]) => notes.filter((note) => note.stave === stave && note.bar === number));
      for (const [key, sign] of accidentalsOf(bars, exercise.signature)) found.set(key, sign);
    }
    return found;
  }

  // Drawing

  function drawTie(group, note, system) {
    const from = system.x.get(note.onset) + glyphWidth("E0A4") + 2;
    const end = note.onset + note.length;
    const to = (system.x.get(end) ?? system.width + 6) - 3;
    const away = note.up ? 1 : -1;
    const y = note.stave.y(note.step) + away * 8;
    const deep = away * Math.min(9, 4 + (to - from) / 14);
    group.append(svgEl("path", { class: "verset-tie", d: `M${from} ${y}Q${(from + to) / 2} ${y + 2 * deep} ${to} ${y}Q${(from + to) / 2} ${y + 1.5 * deep} ${from} ${y}` }));
  }

  function drawWritten(svg, system, note, sign, chosen) {
    const x = system.x.get(note.onset) + note.aside;
    const drawn = drawNote(note.stave, x, note.step, note.length, { up: note.up, sign, id: note.ids[0] });
    Object.assign(drawn.dataset, { voice: note.voice, onset: note.onset });
    drawn.classList.toggle("verset-chosen", chosen);
    if (note.tied) drawTie(drawn, note, system);
    svg.append(drawn);
    for (const id of note.ids) {
      const elsewhere = (player.music.notes.get(id) ?? []).filter((each) => each.isConnected && !paper.contains(each));
      player.music.notes.set(id, [...elsewhere, drawn]);
    }
  }

  function drawOurs(svg, system, at) {
    for (const voice of exercise.events[at].upper) {
      const ours = exercise.ours[voice][at];
      if (!ours || samePitch(ours, view.work[voice][at])) continue;
      const { at: time, length } = exercise.events[at];
      const usual = ours[1] === exercise.signature[ours[0] % 7];
      const note = drawNote(handOf(voice, time), system.x.get(time) + 4, ours[0], length, { up: voice !== exercise.events[at].upper.at(-1), sign: usual ? null : { alter: ours[1], kind: "plain" }, id: "" });
      note.classList.add("verset-ours");
      svg.append(note);
    }
  }

  function drawEvent(svg, system, at) {
    const event = exercise.events[at];
    const x = system.x.get(event.at);
    const here = at === view.n;
    svg.append(svgEl("rect", { class: here ? "verset-column is-here" : "verset-column", "data-at": at, x: x - 13, y: 2, width: columnEnd(system, at) - x - 2, height: system.height - 4 }));
    event.figure.forEach((figure, k) => drawFigure(svg, figure, x, system.foot + 12 + k * ROW));
    const state = view.states[at];
    const mark = svgEl("text", { class: `verset-mark is-${state}`, x: x + 7, y: system.height - 6, "text-anchor": "middle" });
    mark.textContent = MARKS[state];
    svg.append(mark);
    if (view.compare) drawOurs(svg, system, at);
    for (const { pitch } of here ? view.hints : []) {
      svg.append(glyph("E0A4", x, handOf(view.voice, event.at).y(pitch[0]), { class: "verset-may" }));
    }
  }

  /** Where the column of a sonority ends: at the next one, or at the bar line. */
  function columnEnd(system, at) {
    const event = exercise.events[at];
    const bar = system.bars.findIndex((each) => event.at >= each.onset && event.at < each.end);
    const next = exercise.events[at + 1];
    return next && system.x.has(next.at) && next.at < system.bars[bar].end ? system.x.get(next.at) - 11 : system.ends[bar] + 2;
  }

  function drawSystem(system, k, notes, signs) {
    const inside = (time) => time >= system.bars[0].onset && time < system.bars.at(-1).end;
    const low = notes.filter((note) => note.stave === lower && inside(note.onset)).map((note) => lower.y(note.step) + (note.up || note.length >= 4 ? HALF : 3.5 * SPACE));
    system.foot = Math.max(lower.bottom + UNDER, ...low.map((y) => y + 10));
    system.height = system.foot + rows * ROW + 24;
    const { width, height } = system;
    const svg = svgEl("svg", { class: "verset-system", width, height, viewBox: `0 0 ${width} ${height}`, "data-system": k, "aria-hidden": "true" });
    svg.style.order = 2 * k; // the verdict stands below the system it speaks of
    exercise.events.forEach((event, at) => inside(event.at) && drawEvent(svg, system, at));
    const lines = staves.map((stave) => staveLines(stave, 0.6, system.width - 1)).join("");
    const across = [0.6, ...system.ends].map((x) => `M${Math.min(x, system.width - 1)} ${upper.y(upper.low + 8)}V${lower.bottom}`).join("");
    svg.append(svgEl("path", { class: "verset-lines", d: lines + across }));
    const close = exercise.closed && k === systems.length - 1;
    if (close) svg.append(svgEl("rect", { x: system.width - 5, y: upper.y(upper.low + 8), width: 5, height: lower.bottom - upper.y(upper.low + 8) }));
    for (const stave of staves) {
      const end = drawHead(svg, stave, 5, exercise.signature);
      if (k === 0) drawMetre(svg, stave, end + 3, exercise.symbol);
    }
    for (const note of notes.filter((each) => inside(each.onset))) drawWritten(svg, system, note, signs.get(note.key) ?? null, isChosen(note));
    return svg;
  }

  function isChosen(note) {
    if (note.given || note.voice !== view.voice) return false;
    const event = exercise.events[view.n];
    const time = event.at + (view.second ? event.half : 0);
    return note.onset <= time && time < note.onset + note.length;
  }

  /** How far clef, signature and metre reach. */
  function headRoom(first) {
    const scrap = svgEl("g");
    const end = drawHead(scrap, upper, 5, exercise.signature);
    return first ? drawMetre(scrap, upper, end + 3, exercise.symbol) : end;
  }

  /** Show a view of the work; without one the last again. */
  function draw(shown = view) {
    view = shown;
    const notes = written();
    arrange(notes);
    const signs = signsOf(notes);
    const times = new Set([...exercise.events.map((event) => event.at), ...notes.map((note) => note.onset)]);
    const signed = new Set(notes.filter((note) => signs.has(note.key)).map((note) => note.onset));
    const room = printing ? PRINTED : Math.max(280, Math.min(paper.clientWidth || PRINTED, 1100) - 4);
    systems = layOut(exercise, times, signed, headRoom, room);
    const drawn = systems.map((system, k) => drawSystem(system, k, notes, signs));
    for (const old of paper.querySelectorAll(".verset-system")) old.remove();
    paper.prepend(...drawn);
    judged.style.order = 2 * systemOf(view.n) + 1;
  }

  function systemOf(at) {
    const time = exercise.events[at].at;
    return systems.findIndex((system) => system.x.has(time));
  }

  /** Bring the system of a sonority into sight. */
  function see(at) {
    if (at < 0) return;
    paper.querySelector(`[data-system="${systemOf(at)}"]`)?.scrollIntoView({ block: "nearest", behavior: calmly() });
  }

  const calmly = () => (matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth");

  /** The sonority under a pointer, whether the pointer is at the later half of it, and the staff step; null outside. */
  function placeOf(event) {
    const svg = event.target.closest(".verset-system");
    if (!svg) return null;
    const box = svg.getBoundingClientRect();
    const system = systems[Number(svg.dataset.system)];
    const scale = system.width / box.width;
    const x = (event.clientX - box.left) * scale;
    const events = exercise.events.flatMap(({ at }, n) => (system.x.has(at) ? [n] : []));
    const at = events.findLast((n) => x >= system.x.get(exercise.events[n].at) - 13);
    if (at === undefined) return null;
    const { at: time, half } = exercise.events[at];
    const late = half && system.x.has(time + half) && x > system.x.get(time + half) - 6;
    return { at, late: Boolean(late), step: handOf(view.voice, time).step((event.clientY - box.top) * scale) };
  }

  /** Where on the screen a staff step stands at a sonority: for helpers and tests. */
  function pointOf(at, voice, step) {
    const k = systemOf(at);
    const box = paper.querySelector(`[data-system="${k}"]`).getBoundingClientRect();
    const scale = box.width / systems[k].width;
    const time = exercise.events[at].at;
    return [box.left + (systems[k].x.get(time) + 5) * scale, box.top + handOf(voice, time).y(step) * scale];
  }

  const print = (on) => () => {
    printing = on;
    if (view) draw();
  };
  addEventListener("beforeprint", print(true));
  addEventListener("afterprint", print(false));

  return { element: paper, draw, see, placeOf, pointOf };
}
