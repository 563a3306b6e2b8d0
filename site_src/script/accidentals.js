// Which accidentals are written on a stave, by the rule of the bar.

/**
 * As the book has it, an accidental holds to the barline, is repeated as a reminder where another was heard
 * on its line in the bar before or in another octave of this one, and an editorial one holds for its own note
 * alone. Gives signs by the notes' keys.
 * @template Key
 * @param {Spelled<Key>[][]} bars
 * @param {number[]} signature
 * @returns {Map<Key, Sign>}
 */
function accidentalsOf(bars, signature) {
  const found = new Map();
  /** @type {Map<number, number>} */
  let before = new Map();
  for (const notes of bars) {
    const bar = new AccidentalsInBar(signature, before);
    for (const note of [...notes].sort((a, b) => a.onset - b.onset)) {
      const kind = bar.kindOf(note);
      if (kind) found.set(note.key, { alter: note.alter, kind });
    }
    before = bar.heard();
  }
  return found;
}

/** What has been heard on the lines of a stave in one bar, each by staff step. */
class AccidentalsInBar {
  /**
   * @param {number[]} signature
   * @param {Map<number, number>} before
   */
  constructor(signature, before) {
    this.signature = signature;
    this.before = before; // in the bar before
    /** @type {Map<number, number>} */
    this.written = new Map();
    /** @type {Map<number, number>} */
    this.held = new Map(); // tied over the barline, without a sign
    /** @type {Map<number, number>} */
    this.supplied = new Map(); // by an editor
  }

  /**
   * The kind of sign that the next note wants; null for none.
   * @param {Spelled<unknown>} note
   * @returns {Sign["kind"] | null}
   */
  kindOf({ step, alter, continued, editorial }) {
    const usual = this.signature[step % 7];
    if (continued) {
      if (alter !== usual) this.held.set(step, alter);
      return null;
    }
    if (editorial) {
      this.supplied.set(step, alter);
      return "editorial";
    }
    if (alter === (this.written.get(step) ?? usual)) {
      if (this.written.has(step) || !this.isDoubtful(step, alter)) return null;
      this.written.set(step, alter);
      return "reminder";
    }
    this.written.set(step, alter);
    return "plain";
  }

  /**
   * Whether another alteration was heard near by.
   * @param {number} step
   * @param {number} alter
   */
  isDoubtful(step, alter) {
    const octave = [...this.written].some(([line, sign]) => line % 7 === step % 7 && sign !== alter);
    const aside = this.held.has(step) ? this.held : this.supplied;
    return octave || [aside, this.before].some((heard) => heard.has(step) && heard.get(step) !== alter);
  }

  /** What the next bar may have to call back. */
  heard() {
    const all = [...this.supplied, ...this.held, ...this.written];
    return new Map(all.filter(([step, alter]) => alter !== this.signature[step % 7]));
  }
}
