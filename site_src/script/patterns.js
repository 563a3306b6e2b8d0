// A pattern of diminution that the reader chooses: by interval, in any key and clef, on every degree of an octave.

const QUARTER = 0.45; // seconds
const PATTERN_CLEFS = ["C1", "G2", "C2", "C3", "C4", "F3", "F4"];
/** @type {Record<string, number>} staff step of the middle line */
const MIDDLES = { G2: 34, C1: 32, C2: 30, C3: 28, C4: 26, F3: 24, F4: 22 };
const PATTERN_KEYS = [
  ["♮", 0],
  ["♭", -1],
  ["♭♭", -2],
  ["♯", 1],
  ["♯♯", 2],
];

/**
 * A list to choose from.
 * @param {string} label
 * @param {string[]} names
 * @param {() => void} changed
 */
function chooser(label, names, changed) {
  const options = names.map((name, n) => el("option", { value: n }, name));
  /** @type {HTMLSelectElement} */
  const list = el("select", { "aria-label": label, change: changed }, ...options);
  return { list, element: el("label", { class: "verset-chooser" }, `${label} `, list) };
}

/** The reader's choice of a pattern, and the tasks that it makes. */
class PatternChoice {
  /** @param {DrillRoom} room */
  constructor(room) {
    const { words, common } = room;
    this.room = room;
    this.table = common.patterns;
    const titles = this.table.map(([, title]) => title);
    this.interval = chooser(words["choose.interval"], titles, () => this.fill());
    this.pattern = chooser(words["choose.pattern"], [], () => this.look());
    const keys = PATTERN_KEYS.map(([sign]) => String(sign));
    this.key = chooser(words["choose.key"], keys, () => this.look());
    this.clef = chooser(words["choose.clef"], PATTERN_CLEFS, () => this.look());
    this.picture = el("div", { class: "verset-drill-music" });
    this.sourced = hintLine("");
    /** @type {Stage | null} */
    this.stage = null; // made when it is first heard
    const hear = button(words["choose.hear"], () => this.hear());
    const begin = button(words["choose.begin"], () => this.begin(), { class: "verset-button" });
    this.element = el(
      "details",
      { class: "verset-more verset-by-pattern" },
      el("summary", {}, words["choose.title"]),
      row(this.interval.element, this.pattern.element, this.key.element, this.clef.element),
      this.picture,
      this.sourced,
      row(hear, begin),
    );
    this.element.addEventListener("toggle", () => this.look());
    this.fill();
  }

  /** The patterns of the interval that is chosen. */
  fill() {
    const names = this.chosen[2].map(([name]) => name);
    this.pattern.list.replaceChildren(...names.map((name, n) => el("option", { value: n }, name)));
    this.look();
  }

  get chosen() {
    return this.table[Number(this.interval.list.value) || 0];
  }

  get fifths() {
    return Number(PATTERN_KEYS[Number(this.key.list.value)][1]);
  }

  /** A pattern of the chosen interval. */
  get one() {
    return this.chosen[2][Number(this.pattern.list.value) || 0];
  }

  /** The first pattern as it stands in the key and clef. */
  look() {
    const tasks = this.tasks();
    this.sourced.textContent = tasks.length ? this.one[3] : this.room.words["choose.none"];
    const [task] = tasks;
    const width = Math.max(280, Math.min(this.picture.clientWidth || 600, 900) - 8);
    const drawn = (task?.shown ?? []).slice(0, this.one[1].length + 1);
    this.picture.replaceChildren(
      ...(task ? [new DrawnLine(drawn, signatureOf(this.fifths), width).svg] : []),
    );
  }

  /** On each degree of an octave the pattern, to be played on the degree above, and from the top downwards. */
  tasks() {
    const { fifths } = this;
    const clef = PATTERN_CLEFS[Number(this.clef.list.value)];
    const low = MIDDLES[clef] - 4;
    const ways = [...Array(7)].flatMap((_, k) => [
      { from: low + k, way: 1 },
      { from: low + 7 - k, way: -1 },
    ]);
    return ways
      .sort((a, b) => b.way - a.way)
      .flatMap(({ from, way }) => this.task(from, way, fifths, clef) ?? []);
  }

  /**
   * @param {number} from
   * @param {number} way
   * @param {number} fifths
   * @param {string} clef
   * @returns {DrillTask | null}
   */
  task(from, way, fifths, clef) {
    const [interval] = this.chosen;
    const [figure, steps, lengths] = this.one;
    const signature = signatureOf(fifths);
    /** @param {number} step @returns {Pitch} */
    const at = (step) => [step, signature[modulo(step, 7)]];
    const model = [...steps, interval].map((step) => at(from + step));
    const asked = [...steps, interval].map((step) => at(from + way + step));
    if (!this.sung(model) || !this.sung(asked)) return null;
    const whole = lengths.reduce((sum, length) => sum + length, 0);
    /** @type {ShownNote[]} */
    const shown = [
      ...model.map(
        ([step, alter], n) =>
          /** @type {ShownNote} */ ([lengths[n] ?? 2, step, alter, n ? "" : clef, n ? 0 : 1]),
      ),
      [whole, ...at(from + way), "", 2],
      [2, ...at(from + way + interval), "", 0],
    ];
    const key = `diminution:chosen:${interval}:${steps.join(".")}:${fifths}:${clef}:${from}:${way}`;
    const ask = { figure: figure.split(":")[0], way: way > 0 ? "up" : "down" };
    return { id: key, step: 1, ask, shown, fifths, right: [{ kind: "", notes: asked }] };
  }

  /**
   * Whether the tuning has some notes, and no rule on melody is against their leaps.
   * @param {Pitch[]} notes
   */
  sung(notes) {
    const { melody, rules } = this.room.tables;
    const { hertz } = this.room.common.exercise;
    return notes.every((pitch, n) => {
      if (!(pitch.join() in hertz)) return false;
      if (!n) return true;
      const steps = pitch[0] - notes[n - 1][0];
      const size = midiOf(pitch) - midiOf(notes[n - 1]);
      const met = melody[`${steps},${size}`] ?? melody[`${steps}`] ?? [];
      return met.every((rule) => rules[rule].severity[0] !== "error");
    });
  }

  /** The pattern that is drawn, with the note it goes to. */
  hear() {
    const [task] = this.tasks();
    if (!task?.shown) return;
    this.stage ??= new Stage(this.room.common, () => {});
    const { hertz } = this.room.common.exercise;
    let at = 0;
    this.stage.play(
      task.shown.slice(0, this.one[1].length + 1).map(([length, step, alter]) => {
        const from = at;
        at += length * QUARTER;
        return [from, at - 0.03, hertz[`${step},${alter}`]];
      }),
    );
  }

  begin() {
    const tasks = this.tasks();
    this.stage?.leave();
    this.stage = null;
    if (tasks.length) this.room.start({ diminution: tasks });
  }
}
