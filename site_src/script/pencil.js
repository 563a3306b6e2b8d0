// Marks of a pencil on the music: lines drawn by hand and fingerings. Each is kept with its bar, so that it stays
// there when the lines of music break anew: across in shares of the bar, down in the engraver's units from the stave.

const FINGER_MARKS = ["1", "2", "3", "4", "5"];
const RUB_REACH = 300; // of the engraver's units: as near as the rubber must come to a mark
const DRAWN_STEP = 60; // of the same: what the hand moves before a new point is kept
const MOST = 400; // marks of a page, and points of a mark

/**
 * Marks read back from a store or a file; what is none is left out.
 * @param {unknown} kept
 * @returns {PencilMark[]}
 */
function readMarks(kept) {
  /** @param {PencilMark} mark */
  const isMark = (mark) =>
    typeof mark?.version === "string" &&
    typeof mark.clefs === "string" &&
    Number.isInteger(mark.bar) &&
    (mark.finger === undefined || FINGER_MARKS.includes(mark.finger)) &&
    Array.isArray(mark.points) &&
    mark.points.length > 0 &&
    mark.points.length <= MOST &&
    mark.points.every((at) => Array.isArray(at) && at.length === 2 && at.every(Number.isFinite));
  return Array.isArray(kept) ? kept.filter(isMark).slice(0, MOST) : [];
}

/**
 * Where a bar stands in its drawing.
 * @param {DrawnBar} bar
 */
function frameOf({ measure }) {
  /** @type {SVGGraphicsElement | null} */
  const stave = measure.querySelector(".staff > path");
  const { x, y, width } = (stave ?? measure).getBBox();
  return { x, y, width: Math.max(width, 1) };
}

class Pencil {
  /**
   * @param {Music} music
   * @param {Words} words
   */
  constructor(music, words) {
    this.music = music;
    this.words = words;
    this.key = `pencil.${location.pathname}`;
    this.marks = readMarks(memory.get(this.key, null));
    /** @type {PencilMark[][]} */
    this.past = [];
    this.tool = ""; // nothing in hand
    /** @type {{ bar: DrawnBar, mark: PencilMark } | null} */
    this.line = null;
    this.buttons = new Map(
      ["pen", ...FINGER_MARKS, "rub"].map((tool) => {
        const said = say(words.pencilFinger, { n: tool });
        const name = tool === "pen" ? words.pencilPen : tool === "rub" ? words.pencilRub : tool;
        const looks = { "aria-pressed": "false", "aria-label": name === tool ? said : null };
        return [tool, button(name, () => this.take(tool), looks)];
      }),
    );
    this.undo = button(words.pencilUndo, () => this.back(), { disabled: true });
    const done = button(words.pencilDone, () => this.take(""));
    this.element = row(...this.buttons.values(), this.undo, done);
    this.element.className = "verset-drawer verset-pencil";
    this.element.hidden = true;
    this.away = new AbortController();
    const listening = { capture: true, signal: this.away.signal };
    document.addEventListener("pointerdown", (event) => this.down(event), listening);
    document.addEventListener("pointermove", (event) => this.move(event), listening);
    for (const end of /** @type {const} */ (["pointerup", "pointercancel"])) {
      document.addEventListener(end, (event) => this.up(event), listening);
    }
  }

  remove() {
    this.away.abort();
  }

  /**
   * Take a tool in hand, or put the pencil away.
   * @param {string} tool
   */
  take(tool) {
    this.tool = tool;
    this.element.hidden = !tool;
    for (const [name, each] of this.buttons) each.setAttribute("aria-pressed", String(name === tool));
    document.documentElement.classList.toggle("verset-drawing", tool !== "");
  }

  // What the hand does

  /** @param {PointerEvent} event */
  barUnder(event) {
    const svg = event.target instanceof Element && event.target.closest(".verset-systems svg");
    if (!svg) return null;
    const { clientX: x } = event;
    /** @param {DrawnBar} bar */
    const away = (bar) => {
      const { left, right } = bar.measure.getBoundingClientRect();
      return Math.max(left - x, x - right, 0);
    };
    const bars = this.music.bars.filter((bar) => bar.system.svg === svg);
    return bars.sort((a, b) => away(a) - away(b))[0] ?? null;
  }

  /**
   * @param {DrawnBar} bar
   * @param {PointerEvent} event
   * @returns {[number, number]}
   */
  place(bar, event) {
    const to = bar.measure.getScreenCTM()?.inverse();
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(to);
    const { x, y, width } = frameOf(bar);
    return [Number(((at.x - x) / width).toFixed(4)), Math.round(at.y - y)];
  }

  /** @param {PointerEvent} event */
  down(event) {
    const bar = this.tool && event.button === 0 ? this.barUnder(event) : null;
    if (!bar) return;
    event.preventDefault();
    event.stopPropagation();
    const { version, clefs } = this.music.blockOf(bar);
    /** @type {PencilMark} */
    const mark = { version, clefs, bar: bar.number, points: [this.place(bar, event)] };
    if (FINGER_MARKS.includes(this.tool)) this.set([...this.marks, { ...mark, finger: this.tool }]);
    else this.line = { bar, mark };
    if (this.tool === "rub") this.rub(bar, mark);
  }

  /** @param {PointerEvent} event */
  move(event) {
    if (!this.line) return;
    event.stopPropagation();
    const { bar, mark } = this.line;
    const [x, y] = this.place(bar, event);
    const { width } = frameOf(bar);
    const [lastX, lastY] = mark.points[mark.points.length - 1];
    if (Math.hypot((x - lastX) * width, y - lastY) < DRAWN_STEP || mark.points.length >= MOST) return;
    mark.points.push([x, y]);
    if (this.tool === "rub") this.rub(this.barUnder(event) ?? bar, mark, event);
    else this.showBar(bar, [...this.marks, mark]);
  }

  /** @param {PointerEvent} event */
  up(event) {
    if (this.tool && this.barUnder(event)) event.stopPropagation();
    const { line } = this;
    this.line = null;
    if (line && this.tool === "pen") this.set([...this.marks, line.mark]);
  }

  /**
   * Take away what the rubber touches.
   * @param {DrawnBar} bar
   * @param {PencilMark} of where the rubber stands: its version and clefs
   * @param {PointerEvent | null} event
   */
  rub(bar, of, event = null) {
    const { width } = frameOf(bar);
    const [x, y] = event ? this.place(bar, event) : of.points[0];
    /** @param {PencilMark} mark */
    const touched = (mark) =>
      mark.bar === bar.number &&
      mark.version === of.version &&
      mark.clefs === of.clefs &&
      mark.points.some((at) => Math.hypot((at[0] - x) * width, at[1] - y) < RUB_REACH);
    const left = this.marks.filter((mark) => !touched(mark));
    if (left.length < this.marks.length) this.set(left);
  }

  // What stands

  /**
   * Marks from a file, in place of those that stand.
   * @param {unknown} kept
   */
  read(kept) {
    this.set(readMarks(kept));
  }

  /** @param {PencilMark[]} marks */
  set(marks) {
    this.past.push(this.marks);
    this.keep(marks);
  }

  back() {
    const before = this.past.pop();
    if (before) this.keep(before);
  }

  /** @param {PencilMark[]} marks */
  keep(marks) {
    this.line = null;
    this.marks = marks.slice(-MOST);
    this.undo.disabled = !this.past.length;
    memory.set(this.key, this.marks);
    this.show();
  }

  /** Draw the marks into every bar that is laid out. */
  show() {
    for (const bar of this.music.bars) this.showBar(bar, this.marks);
  }

  /**
   * Draw into a bar those of some marks that are its own.
   * @param {DrawnBar} bar
   * @param {PencilMark[]} marks
   */
  showBar(bar, marks) {
    bar.measure.querySelector(".verset-pencilled")?.remove();
    const numbered = marks.filter((mark) => mark.bar === bar.number);
    if (!numbered.length || !this.music.seen(bar)) return;
    const { version, clefs } = this.music.blockOf(bar);
    const here = numbered.filter((mark) => mark.version === version && mark.clefs === clefs);
    if (here.length) bar.measure.append(drawMarks(bar, here));
  }
}

/**
 * @param {DrawnBar} bar
 * @param {PencilMark[]} marks
 */
function drawMarks(bar, marks) {
  const frame = frameOf(bar);
  const group = svgEl("g", { class: "verset-pencilled" });
  for (const { points, finger } of marks) {
    const places = points.map(([x, y]) => [Math.round(frame.x + x * frame.width), Math.round(frame.y + y)]);
    if (finger) {
      const [x, y] = places[0];
      const text = svgEl("text", { x, y: y + 140, "text-anchor": "middle", "font-size": 420 });
      text.textContent = finger;
      group.append(text);
    } else {
      const path = places.map((at) => at.join(" ")).join(" L ");
      group.append(svgEl("path", { d: `M ${path}${places.length > 1 ? "" : " h 1"}` }));
    }
  }
  return group;
}
