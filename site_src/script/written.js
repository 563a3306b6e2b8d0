// The notes of an exercise as they are written: cut at bar lines into values, with ties, stems and
// accidentals.

/**
 * The bar of a time.
 * @param {Exercise} exercise
 * @param {number} time
 */
function barAt({ bars }, time) {
  return bars.findLast((bar) => bar[1] <= time) ?? bars[0];
}

/** The two staves of an exercise. */
class Staves {
  /**
   * @param {Exercise} exercise
   * @param {Stave} upper
   * @param {Stave} lower
   */
  constructor(exercise, upper, lower) {
    this.exercise = exercise;
    this.upper = upper;
    this.lower = lower;
    this.both = [upper, lower];
  }

  /**
   * The stave of a voice at a time.
   * @param {string} voice
   * @param {number} time
   */
  of(voice, time) {
    return barAt(this.exercise, time)[3].includes(voice) ? this.upper : this.lower;
  }

  /**
   * All notes as they are written, the highest voice first, as the engraver reads them.
   * @param {Work} work
   */
  written(work) {
    const { order, voices, bars } = this.exercise;
    const notes = [...this.givenNotes(), ...voices.flatMap((voice) => this.ownNotes(work, voice))];
    for (const stave of this.both) {
      for (const [number] of bars) {
        const here = notes.filter((note) => note.stave === stave && note.bar === number);
        turnStems(
          here,
          order.filter((voice) => here.some((note) => note.voice === voice)),
        );
      }
    }
    return notes.sort((a, b) => order.indexOf(a.voice) - order.indexOf(b.voice));
  }

  /** The notes of the given line. */
  givenNotes() {
    /** @type {Set<string>} */
    const open = new Set(); // voices whose last note was tied
    return this.exercise.line.map((given) => {
      const { id, voice, at, length, pitch, tied, editorial } = given;
      const note = this.note({
        voice,
        pitch,
        onset: at,
        length,
        key: id,
        ids: [id],
        tied,
      });
      note.given = true;
      note.editorial = editorial;
      note.continued = open.has(voice);
      open[tied ? "add" : "delete"](voice);
      return note;
    });
  }

  /**
   * The notes that the reader has put in for a voice.
   * @param {Work} work
   * @param {string} voice
   */
  ownNotes(work, voice) {
    return heldNotes(this.exercise, work, voice).flatMap((held) => {
      const cut = writtenPieces(held.onset, held.length, this.exercise.bars);
      return cut.map(({ onset, size }, k) => {
        const own = held.pieces.filter(
          (each) => (k === 0 || each.onset >= onset) && each.onset < onset + size,
        );
        const drawn = own.length ? own : held.pieces.filter((each) => each.onset <= onset).slice(-1);
        const ids = drawn.map(({ id }) => id);
        const tied = k + 1 < cut.length;
        const note = this.note({
          voice,
          pitch: held.pitch,
          onset,
          length: size,
          key: `${voice} ${onset}`,
          ids,
          tied,
        });
        note.continued = k > 0;
        return note;
      });
    });
  }

  /**
   * @param {{ pitch: Pitch, voice: string, onset: number, length: number, key: string, ids: string[], tied: boolean }} of
   * @returns {WrittenNote}
   */
  note({ pitch: [step, alter], ...of }) {
    const place = {
      stave: this.of(of.voice, of.onset),
      bar: barAt(this.exercise, of.onset)[0],
    };
    return {
      ...of,
      ...place,
      step,
      alter,
      given: false,
      continued: false,
      up: true,
      aside: 0,
    };
  }

  /**
   * The accidentals of all notes, by key.
   * @param {WrittenNote[]} notes
   */
  signs(notes) {
    const { bars, signature } = this.exercise;
    const found = this.both.flatMap((stave) => {
      const own = notes.filter((note) => note.stave === stave);
      return [
        ...accidentalsOf(
          bars.map(([number]) => own.filter((note) => note.bar === number)),
          signature,
        ),
      ];
    });
    return new Map(found);
  }
}

/**
 * Stems and what stands aside in a bar of a stave: one voice alone is free, of several the lowest has its
 * stems down.
 * @param {WrittenNote[]} notes
 * @param {string[]} voices highest first
 */
function turnStems(notes, voices) {
  const single = voices.length === 1;
  for (const note of notes) {
    note.up = single ? note.step < note.stave.low + 4 : note.voice !== voices[voices.length - 1];
  }
  if (single) return;
  for (const note of notes.filter((each) => !each.up)) {
    const meets = notes.filter((each) => each.up && each.onset === note.onset);
    if (meets.some((each) => isClose(each, note))) note.aside = glyphWidth(headOf(note.length)) - 1;
  }
}

/**
 * Whether two notes struck together would touch, or be taken for each other: stem up, stem down.
 * @param {WrittenNote} upper
 * @param {WrittenNote} lower
 */
function isClose(upper, lower) {
  const apart = upper.step - lower.step;
  return apart < 0 || apart === 1 || (apart === 0 && headOf(upper.length) !== headOf(lower.length));
}
