// The reader's paper: the given line and what the reader has put in over it, on two staves as the book has
// them, and below each sonority how it stands.

/** @type {Record<State | "note", string>} */
const MARKS = { good: "✓", error: "✕", warning: "~", open: "", note: "" };
const TOP = 50; // of the upper stave's highest line
const BETWEEN = 78; // from the upper stave to the lower
const UNDER = 30; // from the lower stave to the figures, or from the lowest note where that is lower
const PRINTED = 680; // width of a printed system
const NARROWEST = 280;
const WIDEST = 1100;
const ROW = 17; // of figures
const LEFT = 0.6; // edge of a system
const BEFORE_HEAD = 13; // from the edge of a sonority's column to its notes

/** The paper of an exercise: `draw` shows a view of the work, `placeOf` says where a finger has come down. */
class Paper {
  /**
   * @param {Exercise} exercise
   * @param {{ music: { notes: Map<string, SVGElement[]> } }} player
   * @param {HTMLElement} judged
   * @param {Attributes} attributes
   */
  constructor(exercise, player, judged, attributes) {
    this.exercise = exercise;
    this.player = player;
    this.judged = judged;
    const looks = { class: "verset-paper", tabindex: 0, role: "application" };
    this.element = el("div", { ...looks, ...attributes }, judged);
    this.upper = makeStave("G", TOP + 4 * SPACE);
    this.lower = makeStave("F", TOP + 8 * SPACE + BETWEEN);
    this.staves = new Staves(exercise, this.upper, this.lower);
    this.rows = Math.max(1, ...exercise.events.map((event) => event.figure.length));
    /** @type {View | null} */
    this.view = null;
    /** @type {PlacedSystem[]} */
    this.systems = [];
    /** @type {Drawing[]} of the systems */
    this.drawn = [];
    this.clientWidth = 0; // as last seen: to ask for it means to lay out the page
    this.watch = new ResizeObserver(() => {
      const { clientWidth } = this.element;
      if (clientWidth === this.clientWidth) return;
      this.clientWidth = clientWidth;
      this.redraw();
    });
    this.watch.observe(this.element);
    this.before = () => this.print(true);
    this.after = () => this.print(false);
    addEventListener("beforeprint", this.before);
    addEventListener("afterprint", this.after);
  }

  /** The paper is put away. */
  leave() {
    this.watch.disconnect();
    removeEventListener("beforeprint", this.before);
    removeEventListener("afterprint", this.after);
  }

  /** @param {boolean} on */
  print(on) {
    this.printing = on;
    this.redraw();
  }

  /** Show the last view again. */
  redraw() {
    if (this.view) this.draw(this.view);
  }

  /**
   * Show a view of the work.
   * @param {View} view
   */
  draw(view) {
    const { exercise, judged, staves } = this;
    this.view = view;
    const notes = staves.written(view.work);
    const signs = staves.signs(notes);
    const times = new Set([...exercise.events.map((event) => event.at), ...notes.map((note) => note.onset)]);
    const signed = new Set(notes.filter((note) => signs.has(note.key)).map((note) => note.onset));
    this.systems = layOut(exercise, times, signed, (first) => this.headRoom(first), this.room);
    this.systems.forEach((system, k) => this.drawSystem(system, k, { notes, signs, view }));
    for (const { svg } of this.drawn.splice(this.systems.length)) svg.remove();
    judged.style.order = String(2 * this.systemOf(view.n) + 1);
  }

  /** The width of a system. */
  get room() {
    this.clientWidth ||= this.element.clientWidth;
    return this.printing ? PRINTED : Math.max(NARROWEST, Math.min(this.clientWidth || PRINTED, WIDEST) - 4);
  }

  /**
   * How far clef, signature and metre reach.
   * @param {boolean} first
   */
  headRoom(first) {
    const scrap = svgEl("g");
    const end = drawHead(scrap, this.upper, 5, this.exercise.signature);
    return first ? drawMetre(scrap, this.upper, end + 3, this.exercise.symbol) : end;
  }

  // Drawing

  /**
   * @param {PlacedSystem} system
   * @param {number} k
   * @param {{ notes: WrittenNote[], signs: Map<string, Sign>, view: View }} all
   */
  drawSystem(system, k, { notes: every, signs, view }) {
    const { onset } = system.bars[0];
    const { end } = system.bars[system.bars.length - 1];
    /** @param {number} time */
    const inside = (time) => time >= onset && time < end;
    const notes = every.filter((note) => inside(note.onset));
    system.foot = this.footOf(notes);
    system.height = system.foot + this.rows * ROW + 24;
    const drawing = (this.drawn[k] ??= this.newDrawing(k));
    drawing.resize(system.width, system.height);
    drawing.show([
      ...this.exercise.events.flatMap((event, at) =>
        inside(event.at) ? this.eventPart(system, at, view) : [],
      ),
      this.stavesPart(system, k),
      ...notes.map((note) => this.notePart(system, note, signs.get(note.key) ?? null, view)),
    ]);
  }

  /**
   * The drawing of a system, in its place on the page.
   * @param {number} k
   */
  newDrawing(k) {
    const drawing = new Drawing({ class: "verset-system", "data-system": k, "aria-hidden": "true" });
    drawing.svg.style.order = String(2 * k); // the verdict stands below the system it speaks of
    if (k) this.drawn[k - 1].svg.after(drawing.svg);
    else this.element.prepend(drawing.svg);
    return drawing;
  }

  /**
   * @param {PlacedSystem} system
   * @param {number} at
   * @param {View} view
   * @returns {DrawnPart}
   */
  eventPart(system, at, view) {
    const here = at === view.n;
    const others = view.compare && this.exercise.events[at].upper.map((voice) => view.work[voice][at]);
    const place = [placeAt(system, this.exercise.events[at].at), this.columnEnd(system, at), system.foot];
    const shows = [place, system.height, view.states[at], here, here && [view.voice, view.hints], others];
    return {
      name: `sonority ${at}`,
      shows: JSON.stringify(shows),
      draw: () => this.drawEvent(system, at, view),
    };
  }

  /**
   * @param {PlacedSystem} system
   * @param {number} k
   * @returns {DrawnPart}
   */
  stavesPart(system, k) {
    const last = k === this.systems.length - 1;
    const shows = JSON.stringify([system.width, system.ends, last]);
    return { name: "staves", shows, draw: () => this.drawStaves(system, k, last) };
  }

  /**
   * @param {PlacedSystem} system
   * @param {WrittenNote} note
   * @param {Sign | null} sign
   * @param {View} view
   * @returns {DrawnPart}
   */
  notePart(system, note, sign, view) {
    const x = placeAt(system, note.onset);
    const end = note.tied && tieEnd(system, note);
    const own = { ...note, stave: note.stave.letter };
    return {
      name: `note ${note.key}`,
      shows: JSON.stringify([x, end, own, sign, this.isChosen(note, view)]),
      draw: () => this.drawWritten(system, note, sign, view),
    };
  }

  /**
   * Where the figures stand: below the lower stave and its lowest note.
   * @param {WrittenNote[]} notes
   */
  footOf(notes) {
    const { lower } = this;
    const low = notes
      .filter((note) => note.stave === lower)
      .map((note) => lower.y(note.step) + (note.up || note.length >= 4 ? HALF : STEM) + 10);
    return Math.max(lower.bottom + UNDER, ...low);
  }

  /**
   * Lines, bar lines, clefs, signature, metre.
   * @param {PlacedSystem} system
   * @param {number} k
   * @param {boolean} last
   */
  drawStaves(system, k, last) {
    const group = svgEl("g");
    const { exercise, upper, lower, staves } = this;
    const top = upper.y(upper.low + 8);
    const right = system.width - 1;
    const lines = staves.both.map((stave) => staveLines(stave, LEFT, right));
    const across = [LEFT, ...system.ends].map((x) => `M${Math.min(x, right)} ${top}V${lower.bottom}`);
    group.append(
      svgEl("path", {
        class: "verset-lines",
        d: [...lines, ...across].join(""),
      }),
    );
    if (exercise.closed && last) {
      group.append(
        svgEl("rect", {
          x: system.width - 5,
          y: top,
          width: 5,
          height: lower.bottom - top,
        }),
      );
    }
    for (const stave of staves.both) {
      const end = drawHead(group, stave, 5, exercise.signature);
      if (k === 0) drawMetre(group, stave, end + 3, exercise.symbol);
    }
    return group;
  }

  /**
   * The column of a sonority: its figures, how it stands, hints, and ours for comparison.
   * @param {PlacedSystem} system
   * @param {number} at
   * @param {View} view
   */
  drawEvent(system, at, view) {
    const group = svgEl("g");
    const event = this.exercise.events[at];
    const x = placeAt(system, event.at);
    const here = at === view.n;
    group.append(
      svgEl("rect", {
        class: here ? "verset-column is-here" : "verset-column",
        "data-at": at,
        x: x - BEFORE_HEAD,
        y: 2,
        width: this.columnEnd(system, at) - x - 2,
        height: system.height - 4,
      }),
    );
    event.figure.forEach((figure, k) => drawFigure(group, figure, x, system.foot + 12 + k * ROW));
    const state = view.states[at];
    const looks = { class: `verset-mark is-${state}`, "text-anchor": "middle" };
    const mark = svgEl("text", { ...looks, x: x + 7, y: system.height - 6 });
    mark.textContent = MARKS[state];
    group.append(mark);
    if (view.compare) this.drawOurs(group, system, at, view);
    for (const { pitch } of here ? view.hints : []) {
      const y = this.staves.of(view.voice, event.at).y(pitch[0]);
      group.append(glyph(BLACK_HEAD, x, y, { class: "verset-may" }));
    }
    return group;
  }

  /**
   * Where the column of a sonority ends: at the next one, or at the bar line.
   * @param {PlacedSystem} system
   * @param {number} at
   */
  columnEnd(system, at) {
    const event = this.exercise.events[at];
    const bar = system.bars.findIndex((each) => event.at >= each.onset && event.at < each.end);
    const next = this.exercise.events[at + 1];
    const inBar = next && system.x.has(next.at) && next.at < system.bars[bar].end;
    return inBar ? placeAt(system, next.at) - 11 : system.ends[bar] + 2;
  }

  /**
   * @param {SVGElement} group
   * @param {PlacedSystem} system
   * @param {number} at
   * @param {View} view
   */
  drawOurs(group, system, at, view) {
    const { at: time, length, upper } = this.exercise.events[at];
    for (const voice of upper) {
      const ours = this.exercise.ours[voice][at];
      if (!ours || samePitch(ours, view.work[voice][at])) continue;
      const [step, alter] = ours;
      const usual = alter === this.exercise.signature[step % 7];
      /** @type {Sign | null} */
      const sign = usual ? null : { alter, kind: "plain" };
      const up = voice !== upper[upper.length - 1];
      const x = placeAt(system, time) + 4;
      const note = drawNote(this.staves.of(voice, time), x, step, length, {
        up,
        sign,
        id: "",
      });
      note.classList.add("verset-ours");
      group.append(note);
    }
  }

  /**
   * @param {PlacedSystem} system
   * @param {WrittenNote} note
   * @param {Sign | null} sign
   * @param {View} view
   */
  drawWritten(system, note, sign, view) {
    const { up, voice, onset } = note;
    const x = placeAt(system, onset) + note.aside;
    const drawn = drawNote(note.stave, x, note.step, note.length, {
      up,
      sign,
      id: note.ids[0],
    });
    Object.assign(drawn.dataset, { voice, onset });
    drawn.classList.toggle("verset-chosen", this.isChosen(note, view));
    if (note.tied) drawTie(drawn, note, system);
    const { notes } = this.player.music;
    for (const id of note.ids) {
      const others = (notes.get(id) ?? []).filter((each) => each.isConnected);
      notes.set(id, [...others, drawn]);
    }
    return drawn;
  }

  /**
   * Whether the reader is at a note.
   * @param {WrittenNote} note
   * @param {View} view
   */
  isChosen(note, view) {
    if (note.given || note.voice !== view.voice) return false;
    const { at, half = 0 } = this.exercise.events[view.n];
    const time = at + (view.second ? half : 0);
    return note.onset <= time && time < note.onset + note.length;
  }

  // Places

  /** @param {number} at */
  systemOf(at) {
    const time = this.exercise.events[at].at;
    return this.systems.findIndex((system) => system.x.has(time));
  }

  /** @param {number} at */
  drawnSystemOf(at) {
    return this.element.querySelector(`[data-system="${this.systemOf(at)}"]`);
  }

  /**
   * Bring the system of a sonority into sight.
   * @param {number} at
   */
  see(at) {
    if (at < 0) return;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.drawnSystemOf(at)?.scrollIntoView({
      block: "nearest",
      behavior: still ? "auto" : "smooth",
    });
  }

  /**
   * The sonority under a pointer, whether the pointer is at the later half of it, and the staff step; null
   * outside.
   * @param {PointerEvent} event
   */
  placeOf(event) {
    /** @type {SVGSVGElement | null} */
    const svg = /** @type {Element} */ (event.target).closest(".verset-system");
    if (!svg || !this.view) return null;
    const { events } = this.exercise;
    const box = svg.getBoundingClientRect();
    const system = this.systems[Number(svg.dataset.system)];
    const scale = system.width / box.width;
    const x = (event.clientX - box.left) * scale;
    const at = events.findLastIndex((each) => x >= (system.x.get(each.at) ?? Infinity) - BEFORE_HEAD);
    if (at < 0) return null;
    const { at: time, half = 0 } = events[at];
    const late = half > 0 && x > (system.x.get(time + half) ?? Infinity) - 6;
    const y = (event.clientY - box.top) * scale;
    return { at, late, step: this.staves.of(this.view.voice, time).step(y) };
  }

  /**
   * Where on the screen a staff step stands at a sonority: for helpers and tests.
   * @param {number} at
   * @param {string} voice
   * @param {number} step
   */
  pointOf(at, voice, step) {
    const system = this.systems[this.systemOf(at)];
    const box = this.drawnSystemOf(at)?.getBoundingClientRect() ?? new DOMRect();
    const scale = box.width / system.width;
    const time = this.exercise.events[at].at;
    const y = this.staves.of(voice, time).y(step);
    return [box.left + (placeAt(system, time) + 5) * scale, box.top + y * scale];
  }
}

/**
 * @param {PlacedSystem} system
 * @param {number} time of a moment of the system
 */
function placeAt(system, time) {
  const x = system.x.get(time);
  if (x === undefined) throw new Error(`nothing is placed at ${time}`);
  return x;
}

/**
 * Where the tie of a note ends: at the next, or at the edge of the system.
 * @param {PlacedSystem} system
 * @param {WrittenNote} note
 */
function tieEnd(system, note) {
  return (system.x.get(note.onset + note.length) ?? system.width + 6) - 3;
}

/**
 * @param {SVGElement} group
 * @param {WrittenNote} note
 * @param {PlacedSystem} system
 */
function drawTie(group, note, system) {
  const from = placeAt(system, note.onset) + glyphWidth(BLACK_HEAD) + 2;
  const to = tieEnd(system, note);
  const away = note.up ? 1 : -1;
  const y = note.stave.y(note.step) + away * 8;
  const deep = away * Math.min(9, 4 + (to - from) / 14);
  const middle = (from + to) / 2;
  const there = `M${from} ${y}Q${middle} ${y + 2 * deep} ${to} ${y}`;
  const back = `Q${middle} ${y + 1.5 * deep} ${from} ${y}`;
  group.append(svgEl("path", { class: "verset-tie", d: there + back }));
}
