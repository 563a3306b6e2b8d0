// Tasks that are answered with one note after another, or with syllables.

const SYLLABLES = ["ut", "re", "mi", "fa", "sol", "la"];

/**
 * The alteration of each letter in a signature of so many sharps (flats below zero).
 * @param {number} fifths
 */
function signatureOf(fifths) {
  const order = [3, 0, 4, 1, 5, 2, 6];
  const letters = fifths < 0 ? order.toReversed().slice(0, -fifths) : order.slice(0, fifths);
  return [0, 1, 2, 3, 4, 5, 6].map((letter) => (letters.includes(letter) ? Math.sign(fifths) : 0));
}

/**
 * A letter that is typed, as a staff step near another.
 * @param {string} key
 * @param {number} near
 */
function typedStep(key, near) {
  const letter = "cdefgab".indexOf(key);
  const below = near - modulo(near - letter, 7);
  return near - below <= 3 ? below : below + 7;
}

/**
 * A task whose answer is a row of notes.
 * @implements {AskedTask}
 */
class TuneTask {
  /**
   * @param {DrillTask} task
   * @param {DrillPlace} place
   */
  constructor(task, place) {
    this.task = task;
    this.place = place;
    this.shown = task.shown ?? [];
    this.right = task.right ?? [];
    this.signature = signatureOf(task.fifths ?? 0);
    /** @type {Pitch[]} */
    this.given = [];
    this.sign = 0;
    this.element = el("div", { class: "verset-drill-music" });
    this.draw();
  }

  get count() {
    return this.right[0].notes.length;
  }

  get full() {
    return this.given.length === this.count;
  }

  /**
   * The answer as notes to draw: under the line it answers, in a clef that suits.
   * @param {Pitch[]} notes
   * @returns {ShownNote[]}
   */
  row(notes) {
    const lengths = this.task.ask.way || !this.task.octave ? [] : this.shown.map(([length]) => length);
    const middle = notes.reduce((sum, [step]) => sum + step, 0) / Math.max(1, notes.length);
    const clef = middle > 31 ? "G2" : middle > 24 ? "C3" : "F4";
    return notes.map(([step, alter], n) => [lengths[n] ?? 2, step, alter, n ? "" : clef, 0]);
  }

  /** @param {Pitch[]} [ours] */
  draw(ours) {
    const width = this.place.width();
    const line = new DrawnLine(this.shown, this.signature, width);
    const parts = [line.svg];
    if (this.given.length && (this.count > 1 || ours)) parts.push(this.drawn(this.given, "is-given", width));
    if (ours) parts.push(this.drawn(ours, "is-right", width));
    this.element.replaceChildren(...parts);
  }

  /**
   * @param {Pitch[]} notes
   * @param {string} kind
   * @param {number} width
   */
  drawn(notes, kind, width) {
    const { svg } = new DrawnLine(this.row(notes), this.signature, width);
    svg.classList.add(kind);
    return svg;
  }

  /** @param {number} key MIDI number */
  take(key) {
    if (this.full) return;
    const wanted = this.right.flatMap(({ notes }) =>
      notes[this.given.length] ? [notes[this.given.length]] : [],
    );
    /** @param {Pitch} pitch */
    const cost = ([step, alter]) => {
      const likely = wanted.some((each) => modulo(each[0] - step, 7) === 0 && each[1] === alter);
      return likely ? 0 : alter === this.signature[modulo(step, 7)] ? 1 : 2 + Math.abs(alter);
    };
    const spelled = [-1, 0, 1]
      .flatMap((alter) => [...Array(29)].map((_, k) => /** @type {Pitch} */ ([14 + k, alter])))
      .filter((pitch) => midiOf(pitch) === key)
      .sort((a, b) => cost(a) - cost(b));
    if (spelled[0]) this.put(spelled[0]);
  }

  /** @param {Pitch} pitch */
  put(pitch) {
    this.given.push(pitch);
    this.sign = 0;
    this.draw();
    this.place.changed();
  }

  /** @param {string} key */
  type(key) {
    if (key === "+" || key === "-") {
      this.sign = key === "+" ? 1 : -1;
      return true;
    }
    if (!/^[a-g]$/.test(key) || this.full) return false;
    const wanted = this.right[0].notes[this.given.length];
    // A single clef is asked for by letter; in a row a letter is the nearest note of that name.
    const near = this.count === 1 || !this.given.length ? wanted[0] : this.given[this.given.length - 1][0];
    const step = typedStep(key, near);
    const pitch = /** @type {Pitch} */ ([step, this.sign || this.signature[modulo(step, 7)]]);
    this.put(pitch);
    this.place.stage.chord([pitch], 0.6);
    return true;
  }

  undo() {
    this.given.pop();
    this.sign = 0;
    this.draw();
  }

  /**
   * Whether the notes are these, in their own octave or (where the task leaves it open) all in another.
   * @param {Pitch[]} notes
   */
  is(notes) {
    const away = this.given[0][0] - notes[0][0];
    if (away && !(this.task.octave && modulo(away, 7) === 0)) return false;
    return notes.every(([step, alter], n) => {
      const [own, sign] = this.given[n];
      return own - step === away && sign === alter;
    });
  }

  /** @returns {DrillVerdict} */
  verdict() {
    const { words } = this.place;
    const met = this.full ? this.right.find(({ notes }) => this.is(notes)) : undefined;
    const kinds = met?.kind ? [el("p", {}, words[`kind.${met.kind}`])] : [];
    const names = this.right[0].notes.map((pitch) => noteName(words, pitch)).join(" ");
    const told = met ? kinds : [el("p", {}, say(words.itIs, { notes: names }))];
    return { right: Boolean(met), told };
  }

  show() {
    this.draw(this.right[0].notes);
  }

  /** @param {boolean} ours */
  hear(ours) {
    const { stage } = this.place;
    const notes = ours ? this.right[0].notes : this.given;
    const { hertz } = stage.common.exercise;
    stage.play(notes.map((pitch, n) => [n * 0.5, n * 0.5 + 0.45, hertz[pitch.join()] ?? 440]));
  }

  hearAsked() {
    const { hertz } = this.place.stage.common.exercise;
    let at = 0;
    this.place.stage.play(
      this.shown.flatMap(([length, step, alter]) => {
        const from = at;
        at += length * 0.45;
        return step === null ? [] : [[from, at - 0.04, hertz[`${step},${alter}`] ?? 440]];
      }),
    );
  }

  leave() {}
}

/**
 * A task that is answered with a syllable under each note.
 * @implements {AskedTask}
 */
class SyllableTask {
  /**
   * @param {DrillTask} task
   * @param {DrillPlace} place
   */
  constructor(task, place) {
    this.place = place;
    this.shown = task.shown ?? [];
    this.table = place.stage.common.hexachords;
    /** @type {number[]} */
    this.given = [];
    this.line = new DrawnLine(this.shown, signatureOf(task.fifths ?? 0), place.width());
    const buttons = SYLLABLES.map((name, n) => button(name, () => this.put(n)));
    this.element = el("div", { class: "verset-drill-music" }, this.line.svg, row(...buttons));
  }

  get full() {
    return this.given.length === this.shown.length;
  }

  /** @param {number} n */
  at(n) {
    const [, step, alter] = this.shown[n];
    return this.table[`${modulo(step ?? 0, 7)},${alter}`] ?? [];
  }

  /** @param {number} syllable */
  put(syllable) {
    if (this.full) return;
    this.given.push(syllable);
    this.draw();
    this.place.changed();
  }

  draw() {
    this.write(this.given, "");
  }

  /**
   * Put syllables under the notes.
   * @param {number[]} row
   * @param {string} kind
   */
  write(row, kind) {
    for (const old of this.line.svg.querySelectorAll(
      `.verset-syllable${kind ? ".is-right" : ":not(.is-right)"}`,
    ))
      old.remove();
    row.forEach((syllable, n) => {
      const { x, row: at } = this.line.places[n];
      const y = (at + 1) * ROW_HEIGHT - (kind ? 4 : 18);
      const text = svgEl("text", { class: `verset-syllable ${kind}`, x: x + 6, y, "text-anchor": "middle" });
      text.textContent = SYLLABLES[syllable];
      this.line.svg.append(text);
    });
  }

  take() {}

  /** @param {string} key */
  type(key) {
    const n = "urmfsl".indexOf(key);
    if (n < 0) return false;
    this.put(n);
    return true;
  }

  undo() {
    this.given.pop();
    this.draw();
  }

  /**
   * The hexachords in which a row of syllables may be sung: for each note those that are left. One goes into
   * another on a note that both have.
   * @param {number[]} row
   */
  sung(row) {
    /** @type {Set<number>} */
    let open = new Set();
    return row.map((syllable, n) => {
      const here = this.at(n)
        .filter(([, its]) => its === syllable)
        .map(([hexachord]) => hexachord);
      const shared = new Set(this.at(n).map(([hexachord]) => hexachord));
      const came =
        n === 0 || [...open].some((hexachord) => here.includes(hexachord) || shared.has(hexachord));
      open = new Set(came ? here : []);
      return open;
    });
  }

  /** The row with the fewest mutations. */
  best() {
    /** @type {{ row: number[], hexachord: number, cost: number }[]} */
    let ways = this.at(0).map(([hexachord, syllable]) => ({ row: [syllable], hexachord, cost: 0 }));
    for (let n = 1; n < this.shown.length; n++) {
      ways = this.at(n).flatMap(([hexachord, syllable]) => {
        const from = ways
          .filter(
            (way) => way.hexachord === hexachord || this.at(n).some(([other]) => other === way.hexachord),
          )
          .map((way) => ({ ...way, cost: way.cost + (way.hexachord === hexachord ? 0 : 1) }))
          .sort((a, b) => a.cost - b.cost)[0];
        return from ? [{ row: [...from.row, syllable], hexachord, cost: from.cost }] : [];
      });
    }
    return ways.sort((a, b) => a.cost - b.cost)[0]?.row ?? [];
  }

  /** @returns {DrillVerdict} */
  verdict() {
    const { words } = this.place;
    const right = this.full && this.sung(this.given).every((open) => open.size > 0);
    const names = this.best()
      .map((n) => SYLLABLES[n])
      .join(" ");
    return { right, told: right ? [] : [el("p", {}, say(words.itIs, { notes: names }))] };
  }

  show() {
    this.write(this.best(), "is-right");
  }

  hear() {
    const { stage } = this.place;
    const { hertz } = stage.common.exercise;
    stage.play(
      this.shown.map(([, step, alter], n) => [n * 0.5, n * 0.5 + 0.45, hertz[`${step},${alter}`] ?? 440]),
    );
  }

  hearAsked() {
    this.hear();
  }

  leave() {}
}
