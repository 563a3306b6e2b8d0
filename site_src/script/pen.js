// The reader's pen: where it stands in an exercise, and what it writes. Knows nothing of the page.

const HIGHEST = 40; // staff steps that may be put in: C2 to A5
const LOWEST = 14;

/**
 * Told of what the pen does: the work has changed, the pen stands elsewhere, a note was put in.
 * @typedef {{ changed(): void, moved(): void, wrote(): void }} PenWatch
 */

class Pen {
  /**
   * @param {Exercise} exercise
   * @param {Work} work
   * @param {PenWatch} watch
   */
  constructor(exercise, work, watch) {
    this.exercise = exercise;
    this.work = work;
    this.watch = watch;
    this.changes = new Changes(JSON.stringify(work));
    this.voice = exercise.voices.find((voice) => this.firstOf(voice) >= 0) ?? exercise.voices[0];
    this.n = Math.max(0, this.firstOf(this.voice));
    this.second = false; // whether it is at the second note of a divided sonority
    /** @type {Hint[]} */
    this.hints = [];
  }

  /** @param {string} voice */
  firstOf(voice) {
    const { exercise } = this;
    return exercise.events.findIndex(
      (event, n) => event.upper.includes(voice) && !stands(exercise, voice, n),
    );
  }

  // Where it stands

  /** Whether the voice has a note to be put in at a sonority. */
  entered(n = this.n) {
    const { exercise, voice } = this;
    return (exercise.events[n]?.upper.includes(voice) ?? false) && !stands(exercise, voice, n);
  }

  /** The note under the pen. */
  get tone() {
    return this.second ? secondTone(this.work, this.n, this.voice) : this.work[this.voice][this.n];
  }

  /** Staff step where the voice would most likely go on: of the note it has, had, or might have. */
  get near() {
    const row = this.work[this.voice];
    const [low, high] = this.exercise.compass[this.voice];
    const note =
      (this.second && this.tone) || row[this.n] || (!this.second && (row[this.n - 1] || row[this.n + 1]));
    return note ? note[0] : Math.round((low + high) / 2);
  }

  moved() {
    this.hints = [];
    this.watch.moved();
  }

  /**
   * To the next note of the voice, or back.
   * @param {number} by 1 or -1
   */
  go(by) {
    const divided = Boolean(secondTone(this.work, this.n, this.voice));
    if (by > 0 ? divided && !this.second : this.second) this.second = !this.second;
    else {
      this.second = false;
      let next = this.n + by;
      while (this.exercise.events[next] && !this.entered(next)) next += by;
      if (this.exercise.events[next]) this.n = next;
    }
    this.moved();
  }

  /** @param {string} voice */
  choose(voice) {
    if (this.firstOf(voice) < 0) return;
    this.voice = voice;
    this.second = false;
    if (!this.entered()) this.n = this.firstOf(voice);
    this.moved();
  }

  /**
   * To the voice above or below.
   * @param {number} by -1 for the higher one
   */
  chooseNext(by) {
    const { voices } = this.exercise;
    this.choose(voices[clamp(voices.indexOf(this.voice) + by, 0, voices.length - 1)]);
  }

  // What it writes

  /**
   * Put a note in; null takes it away.
   * @param {Pitch | null} pitch
   */
  put(pitch) {
    if (!this.entered()) return;
    if (this.second) divide(this.work, this.voice, this.n, pitch);
    else this.work[this.voice][this.n] = pitch;
    if (!pitch) {
      divide(this.work, this.voice, this.n, null);
      this.second = false;
    }
    this.changed();
    if (pitch) this.watch.wrote();
  }

  /**
   * Put in the note of a staff step, as the signature has it.
   * @param {number} step
   */
  putStep(step) {
    this.put([step, this.exercise.signature[step % 7]]);
  }

  /** @param {number} by staff steps */
  shift(by) {
    this.putStep(this.tone ? clamp(this.tone[0] + by, LOWEST, HIGHEST) : this.near);
  }

  /** @param {number} by semitones */
  alter(by) {
    const { tone } = this;
    if (tone) this.put([tone[0], clamp(tone[1] + by, -1, 1)]);
  }

  /** @param {number} letter 0 for C */
  putLetter(letter) {
    this.putStep(nearestStep(letter, this.near));
  }

  /**
   * Put in the note of a key and go on; nothing where the voice has no such note.
   * @param {number} key MIDI number
   */
  putKey(key) {
    const [low, high] = this.exercise.compass[this.voice];
    const pitch = Object.keys(this.exercise.hertz)
      .map((text) => /** @type {Pitch} */ (text.split(",").map(Number)))
      .filter((each) => midiOf(each) === key && each[0] >= low && each[0] <= high)
      .sort((a, b) => Math.abs(a[1]) - Math.abs(b[1]))[0];
    if (!pitch) return;
    this.put(pitch);
    this.go(1);
  }

  /** Put a second note after the first: on the way to the next one. */
  divideHere() {
    const { work, voice, n } = this;
    const here = this.entered() && work[voice][n];
    if (!here || !this.exercise.events[n].half) return;
    const next = work[voice][n + 1];
    const way = Math.sign((next?.[0] ?? here[0] + 1) - here[0]) || 1;
    const known = secondTone(work, n, voice);
    this.second = true;
    if (known) this.put(known);
    else this.putStep(here[0] + way);
  }

  /** Keep the work as it is now. */
  changed() {
    this.hints = [];
    this.changes.keep(JSON.stringify(this.work));
    this.watch.changed();
  }

  /**
   * Another work in place of this one, as one change.
   * @param {Work} work
   */
  replace(work) {
    this.work = work;
    this.second = false;
    this.changed();
  }

  /**
   * Show a work that is still being made: it is kept only once it replaces this one.
   * @param {Work} work
   */
  show(work) {
    this.work = work;
    this.second = false;
    this.moved();
  }

  undo() {
    this.travel(this.changes.undo());
  }

  redo() {
    this.travel(this.changes.redo());
  }

  /** @param {string | null} state */
  travel(state) {
    if (state !== null) this.replace(JSON.parse(state));
  }

  /**
   * The note that fits best as things stand: ours, where nothing forbids it, else the one with least against
   * it and the shortest way.
   */
  bestHint() {
    const { exercise, work, voice, n } = this;
    const ours = exercise.ours[voice][n];
    const from = n > 0 ? lateToneAt(exercise, work, n - 1, voice) : null;
    /** @param {Hint} hint */
    const cost = ({ pitch, price }) =>
      samePitch(pitch, ours) ? -100 : price * 10 + (from ? Math.abs(pitch[0] - from[0]) : 0);
    return [...this.hints].sort((a, b) => cost(a) - cost(b))[0]?.pitch ?? ours;
  }
}
