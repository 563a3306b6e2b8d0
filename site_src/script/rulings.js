// What the rules say of the sonorities of an exercise. It is remembered by the notes that the rules ask after, since
// a stroke changes few of them, and the page asks for all. Knows nothing of the page.

const REMEMBERED = 400; // fillings of each sonority
/** @type {Record<Severity, number>} */
const PRICES = { error: 100, warning: 1, note: 0 };

class Rulings {
  /**
   * @param {Tables} tables
   * @param {Exercise} exercise
   */
  constructor(tables, exercise) {
    this.tables = tables;
    this.exercise = exercise;
    /** @type {Map<string, Judged[]>[]} */
    this.known = exercise.events.map(() => new Map());
  }

  /**
   * What is met at a sonority, its second notes, and the way to it.
   * @param {Work} work
   * @param {number} n
   */
  judge(work, n) {
    const known = this.known[n];
    const asked = this.exercise.voices.map((voice) => notesAsked(work, n, voice)).join(";");
    const before = known.get(asked);
    if (before) return before;
    if (known.size >= REMEMBERED) known.clear();
    const found = judge(this.tables, this.exercise, work, n);
    known.set(asked, found);
    return found;
  }

  /**
   * How a sonority stands: "error", "open" while notes are missing, "warning" or "good".
   * @param {Work} work
   * @param {number} n
   * @returns {State}
   */
  standing(work, n) {
    if (!this.exercise.events[n].upper.length) return "open";
    const met = new Set(this.judge(work, n).map(({ severity }) => severity));
    if (met.has("error")) return "error";
    if (!isWhole(this.exercise, work, n)) return "open";
    return met.has("warning") ? "warning" : "good";
  }

  /**
   * How much the rules hold against a sonority: 100 for an error, 1 for a warning.
   * @param {Work} work
   * @param {number} n
   */
  faults(work, n) {
    return this.judge(work, n).reduce((sum, { severity }) => sum + PRICES[severity], 0);
  }
}

/**
 * The notes of a voice that a verdict may ask after: back to the beginning of the note before the last one, and on to
 * the next other note.
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 */
function notesAsked(work, n, voice) {
  const row = work[voice];
  const then = work.then?.[voice];
  /** @param {number} k */
  const goesOn = (k) => samePitch(then?.[k] ?? row[k], row[k + 1]);
  let first = Math.max(0, n - 1);
  for (let changes = 0; first > 0 && changes < 2; first--) if (!goesOn(first - 1)) changes++;
  let last = n;
  while (last + 1 < row.length && goesOn(last)) last++;
  const notes = row.slice(first, last + 2).join("|");
  return then ? `${first}:${notes}/${then.slice(first, last + 2).join("|")}` : `${first}:${notes}`;
}
