// Tasks that are answered with sonorities over a bass: played, shared out among the voices, and judged by the
// tables of the rules.

/** @implements {AskedTask} */
class SettingTask {
  /**
   * @param {DrillTask} task
   * @param {DrillPlace} place
   */
  constructor(task, place) {
    this.task = task;
    this.place = place;
    this.exercise = exerciseOf(task, place.stage.common);
    this.work = emptyWork(this.exercise);
    this.n = this.onward(0);
    /** @type {Pitch[]} */
    this.chord = []; // of the sonority that is being played
    this.sign = 0;
    this.compare = false;
    this.rulings = new Rulings(place.tables, this.exercise);
    this.paper = new Paper(this.exercise, { music: { notes: new Map() } }, el("div", { hidden: true }), {
      role: "img",
      tabindex: -1,
      "aria-label": this.told(),
    });
    this.element = el("div", { class: "verset-drill-music" }, this.paper.element);
    this.draw();
  }

  /** The next sonority that has voices to play. @param {number} from */
  onward(from) {
    const { events } = this.exercise;
    const next = events.findIndex((event, n) => n >= from && event.upper.length);
    return next < 0 ? events.length : next;
  }

  get full() {
    return this.n >= this.exercise.events.length;
  }

  /** The bass in words, for those who do not see it. */
  told() {
    const { words } = this.place;
    return this.exercise.events
      .map(({ bass, figure }) => noteName(words, bass) + (figure.length ? ` (${figure.join(" ")})` : ""))
      .join(", ");
  }

  draw() {
    const { exercise, rulings } = this;
    const n = Math.min(this.n, exercise.events.length - 1);
    let work = this.work;
    if (this.chord.length) work = this.partly();
    const judged = this.full;
    const states = exercise.events.map((_, at) =>
      judged ? rulings.standing(work, at) : /** @type {State} */ ("open"),
    );
    this.paper.draw({ work, n, voice: "", second: false, compare: this.compare, hints: [], states });
    const lowest = exercise.events[n].bass;
    this.place.stage.mark([midiOf(lowest), ...this.chord.map(midiOf)]);
  }

  /** The work with the notes of an unfinished sonority, from the highest voice down. */
  partly() {
    const high = [...this.chord].sort((a, b) => midiOf(b) - midiOf(a));
    /** @type {Work} */
    const work = { ...this.work };
    this.exercise.events[this.n].upper.forEach((voice, k) => {
      work[voice] = work[voice].map((each, at) => (at === this.n ? (high[k] ?? null) : each));
    });
    return work;
  }

  /** @param {number} key MIDI number */
  take(key) {
    if (this.full) return;
    const event = this.exercise.events[this.n];
    if (key <= midiOf(event.bass)) return; // the line itself, which sounds
    const pitch = spelledKey(this.exercise, this.n, key);
    if (pitch) this.put(pitch);
  }

  /** Put a note into the sonority, or take it out again. @param {Pitch} pitch */
  put(pitch) {
    const event = this.exercise.events[this.n];
    const known = this.chord.findIndex((each) => midiOf(each) === midiOf(pitch));
    if (known >= 0) this.chord.splice(known, 1);
    else this.chord.push(pitch);
    this.sign = 0;
    if (this.chord.length === event.upper.length) this.close();
    else this.draw();
  }

  /** The sonority is whole: on to the next, or to the verdict. */
  close() {
    const work = shareOut(this.exercise, this.work, this.n, this.chord, this.rulings);
    if (!work) return;
    this.place.stage.chord([this.exercise.events[this.n].bass, ...this.chord]);
    this.work = work;
    this.chord = [];
    this.n = this.onward(this.n + 1);
    this.draw();
    this.place.changed();
  }

  /** @param {string} key */
  type(key) {
    if (this.full) return false;
    if (key === "+" || key === "-") {
      this.sign = key === "+" ? 1 : -1;
      return true;
    }
    if (key === "." && this.chord.length) {
      this.close();
      return true;
    }
    if (!/^[a-g]$/.test(key)) return false;
    const event = this.exercise.events[this.n];
    const lowest = this.exercise.compass[event.upper[event.upper.length - 1]][0];
    const last = this.chord.reduce(
      (top, [step]) => Math.max(top, step),
      Math.max(lowest, event.bass[0] + 1) - 1,
    );
    const step = last + 1 + modulo("cdefgab".indexOf(key) - last - 1, 7);
    this.put([step, this.sign || this.exercise.signature[modulo(step, 7)]]);
    return true;
  }

  undo() {
    if (this.chord.length) this.chord.pop();
    else if (this.n > 0) {
      this.n -= 1;
      for (const voice of this.exercise.voices) {
        this.work = {
          ...this.work,
          [voice]: this.work[voice].map((each, at) => (at === this.n ? null : each)),
        };
      }
    }
    this.draw();
  }

  /** @returns {DrillVerdict} */
  verdict() {
    const { exercise, rulings, work, place } = this;
    this.n = exercise.events.length;
    this.chord = [];
    const met = exercise.events.flatMap((event, n) =>
      rulings.judge(work, n).map((each) => ({ ...each, where: event.where })),
    );
    const whole = exercise.events.every(({ upper }, n) => upper.every((voice) => work[voice][n]));
    const wrong = met.some(({ severity }) => severity === "error");
    const lines = met.map(({ rule, severity, voices, where }) => {
      const [title, sentence] = place.told[rule];
      const names = voices.map((voice) => place.words.voiceNames[voice]).join(", ");
      const head = `${MARKS[severity]} ${place.words.try[severity]}: ${title}`;
      return el(
        "li",
        { class: `is-${severity}` },
        el("strong", {}, head),
        ` (${where}; ${names}). ${sentence}`,
      );
    });
    const told = [...(lines.length ? [el("ul", {}, ...lines)] : []), ...this.byTheRule(wrong)];
    return { right: whole && !wrong, told };
  }

  /**
   * Where a rule of thumb was asked for: which sonorities are lawful, but not those of the rule.
   * @param {boolean} wrong
   */
  byTheRule(wrong) {
    const { rule } = this.task;
    if (!rule || wrong) return [];
    const other = this.exercise.events.filter(({ variants }, n) => {
      const tones = tonesAt(this.exercise, this.work, n).filter(([voice]) =>
        this.exercise.voices.includes(voice),
      );
      const event = this.exercise.events[n];
      const faults = variants.map((variant) => readAs(event, tones, () => null, variant).fault);
      return Math.min(...faults.slice(0, rule[n])) > 0;
    });
    if (!other.length) return [el("p", {}, this.place.words.asTheRule)];
    const places = other.map(({ where }) => where).join(", ");
    return [el("p", {}, say(this.place.words.notTheRule, { places }))];
  }

  show() {
    this.compare = true;
    this.n = this.exercise.events.length;
    this.draw();
  }

  /** @param {boolean} ours */
  hear(ours) {
    const work = ours ? /** @type {Work} */ (this.exercise.ours) : this.work;
    const notes = workToPlay(this.exercise, work, this.exercise.order);
    const first = Math.min(...notes.map(([start]) => start));
    this.place.stage.play(notes.map(([start, end, hertz]) => [start - first, end - first, hertz]));
  }

  hearAsked() {
    const { exercise, place } = this;
    place.stage.play(
      exercise.line.map(({ start, end, pitch }) => [start, end, exercise.hertz[pitch.join()] ?? 440]),
    );
  }

  leave() {
    this.paper.leave();
  }
}

/**
 * The exercise of a task, with what all tasks share.
 * @param {DrillTask} task
 * @param {DrillCommon} common
 * @returns {Exercise}
 */
function exerciseOf(task, { exercise: { compass, hertz, notes, pairs } }) {
  const own = /** @type {Exercise} */ (task.exercise);
  return { ...own, compass, hertz, notes, pairs: pairs[own.fifths] };
}
