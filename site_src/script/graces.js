// One voice played in small notes over the plain version, judged against its skeleton: its plain notes are looked
// for in time, what stands between them passes, is a neighbour, belongs to the sonority, or clashes. What a clash
// meets is looked up in the tables of the rules. Knows nothing of the page.

const FAR_OFF = 1.5; // seconds from its time beyond which no plain note is looked for
const OTHER_KEY = 3; // what it costs that another key stands where the plain note is looked for
const NOT_STRUCK = 3; // what it costs that a plain note is not struck
const SMALL = 0.25; // quarters: where small notes begin
const QUICK = 0.125; // and those that follow one another faster
const FAST = 0.19; // quarters from one to the next, as the mean of two
const PASSED = 4; // the most plain notes in a row that are not struck

/** The plain notes of a voice, laid over what was played of it. */
class Skeleton {
  /**
   * @param {Exercise} exercise
   * @param {Work} work the plain setting
   * @param {string} voice
   * @param {PlayedKey[]} notes in order of their beginning
   */
  constructor(exercise, work, voice, notes) {
    this.notes = notes;
    /** @type {{ n: number, start: number, end: number, key: number }[]} */
    this.plain = [];
    exercise.events.forEach(({ upper, joined, start, end }, n) => {
      const pitch = upper.includes(voice) ? work[voice][n] : null;
      const last = this.plain.at(-1);
      // A plain note that is struck again is one note to be broken.
      if (last && pitch && joined && last.key === midiOf(pitch)) last.end = end;
      else if (pitch) this.plain.push({ n, start, end, key: midiOf(pitch) });
    });
  }

  /** For each plain note the place of the key that stands at its beginning; -1 where none does. */
  places() {
    const { plain, notes } = this;
    /** @type {{ cost: number, from: [number, number] | null }[][]} */
    const best = plain.map(() => notes.map(() => ({ cost: Infinity, from: null })));
    plain.forEach((each, e) => {
      notes.forEach((note, k) => {
        if (Math.abs(note.on - each.start) > FAR_OFF) return;
        const here = note.key === each.key ? 0 : OTHER_KEY;
        const cell = best[e][k];
        cell.cost = here + this.unstruck(-1, e) + (note.on - each.start) ** 2 / (2 * OFF_LINE ** 2);
        for (let e0 = e - 1; e0 >= 0 && e0 >= e - 1 - PASSED; e0--) {
          for (let k0 = k - 1; k0 >= 0; k0--) {
            const before = best[e0][k0].cost;
            if (before === Infinity) continue;
            const cost = before + here + this.unstruck(e0, e) + this.timed(e0, k0, e, k);
            if (cost < cell.cost) Object.assign(cell, { cost, from: [e0, k0] });
          }
        }
      });
    });
    return this.traced(best);
  }

  /**
   * @param {number} e0
   * @param {number} e
   */
  unstruck(e0, e) {
    return (e - e0 - 1) * NOT_STRUCK;
  }

  /**
   * @param {number} e0
   * @param {number} k0
   * @param {number} e
   * @param {number} k
   */
  timed(e0, k0, e, k) {
    const asked = this.plain[e].start - this.plain[e0].start;
    const off = this.notes[k].on - this.notes[k0].on - asked;
    return off ** 2 / (2 * (STEADY ** 2 + (WANDER * asked) ** 2 + 2 * FINGERS ** 2));
  }

  /** @param {{ cost: number, from: [number, number] | null }[][]} best */
  traced(best) {
    const found = this.plain.map(() => -1);
    let [least, e, k] = [Infinity, -1, -1];
    best.forEach((row, e0) =>
      row.forEach(({ cost }, k0) => {
        const whole = cost + this.unstruck(e0, this.plain.length);
        if (whole < least) [least, e, k] = [whole, e0, k0];
      }),
    );
    while (e >= 0) {
      found[e] = k;
      [e, k] = best[e][k].from ?? [-1, -1];
    }
    return found;
  }
}

/** A voice in small notes, judged note by note. */
class Graced {
  /**
   * @param {Tables} tables
   * @param {Exercise} exercise
   * @param {Work} work the plain setting
   * @param {string} voice
   * @param {PlayedKey[]} played
   */
  constructor(tables, exercise, work, voice, played) {
    this.tables = tables;
    this.exercise = exercise;
    this.work = work;
    this.voice = voice;
    this.notes = [...played].sort((a, b) => a.on - b.on);
    const skeleton = new Skeleton(exercise, work, voice, this.notes);
    this.plain = skeleton.plain;
    this.places = skeleton.places();
    /** @type {GraceNote[]} */
    this.small = this.notes.map((note, k) => this.placed(note, k));
  }

  /**
   * Where a key stands: at which plain note, and when in the verset.
   * @param {PlayedKey} note
   * @param {number} k
   * @returns {GraceNote}
   */
  placed({ key, on }, k) {
    const { plain, places, notes } = this;
    const before = places.findLastIndex((place) => place >= 0 && place <= k);
    const after = places.findIndex((place) => place > k);
    const [from, to] = [notes[places[before]]?.on, notes[places[after]]?.on];
    const start = plain[before]?.start ?? plain[0].start - 1;
    const lasts = from === undefined || to === undefined ? 1 : (plain[after].start - start) / (to - from);
    const time = from === undefined ? start : start + (on - from) * lasts;
    const e = Math.max(
      0,
      plain.findLastIndex((each) => each.start <= time + 0.02),
    );
    const n = this.exercise.events.findLastIndex((event) => event.start <= time + 0.02);
    const pitch = spelledKey(this.exercise, Math.max(0, n), key);
    return { n: Math.max(0, n), e, time, pitch, head: places[e] === k, kind: "plain", rules: [] };
  }

  /** All notes with what each is, and what the rules hold against it. */
  judged() {
    this.small.forEach((note, k) => {
      const [before, after] = [this.small[k - 1]?.pitch, this.small[k + 1]?.pitch];
      const melody = before ? look(this.tables.melody, interval(before, note.pitch)) : [];
      note.rules = melody.filter((rule) => this.isError(rule));
      const { key } = this.plain[note.e];
      if (note.head && midiOf(note.pitch) === key) return;
      const { clashes, rules } = this.clashesAt(this.meantAt(k), note, before, after);
      // Where a pattern comes back to its plain note, or this is struck again, it is plain.
      const back = midiOf(note.pitch) === key && !clashes;
      note.kind = back ? "plain" : kindOf(before, note.pitch, after, clashes);
      note.rules.push(...rules);
    });
    return this.small;
  }

  /**
   * When a key is meant to begin, in quarters: hands are early or late, notes begin at a plain note or at a sixteenth
   * between two of them, or half of one where they follow one another faster.
   * @param {number} k
   */
  meantAt(k) {
    const { small, plain, places } = this;
    const { events } = this.exercise;
    const { e, head } = small[k];
    const own = events[plain[e].n].at;
    if (head) return own;
    const at = this.quarterOf(small[k].time);
    // Between its neighbours: one that is early is nearer to the first and farther from the next.
    const [before, after] = [small[k - 1], small[k + 1]].map((other) => other && this.quarterOf(other.time));
    const apart = ((after ?? at + 1) - (before ?? at - 1)) / 2;
    const grid = apart < FAST ? QUICK : SMALL;
    const next = places[e + 1] > k ? events[plain[e + 1].n].at - grid : Infinity;
    const first = places[e] >= 0 && places[e] < k ? own + grid : -Infinity;
    return Math.max(first, Math.min(next, Math.round(at / grid) * grid));
  }

  /**
   * A moment in quarters.
   * @param {number} time seconds of the verset
   */
  quarterOf(time) {
    const { events } = this.exercise;
    const event = events.findLast(({ start }) => start <= time) ?? events[0];
    return event.at + ((time - event.start) / (event.end - event.start)) * event.length;
  }

  /**
   * What a note clashes with at a moment, and the rules that this meets: none where its own way excuses it, or the
   * way of the note it clashes with, where it is the next note before its time, or where nobody knows how it goes on.
   * What begins a plain note, and clashes, is no passing note.
   * @param {number} at quarters
   * @param {GraceNote} note
   * @param {Pitch | undefined} before
   * @param {Pitch | undefined} after
   */
  clashesAt(at, { pitch, head }, before, after) {
    const { exercise, work, tables, voice } = this;
    const n = Math.max(
      0,
      exercise.events.findLastIndex((event) => event.at <= at),
    );
    const event = exercise.events[n];
    const others = [...event.upper, event.voice].filter((each) => each !== voice);
    let clashes = false;
    const rules = others.flatMap((each) => {
      const notes = notesAround(exercise, work, n, each);
      const theirs = notes.find(({ onset, length }) => onset <= at && at < onset + length);
      if (!theirs || !isClash(tables, each === event.voice, pitch, theirs.pitch)) return [];
      clashes = true;
      if (!before || !after) return [];
      if (!head && samePitch(pitch, after)) return [];
      const steps = tables.second[`${pitch[0] - before[0]},${after[0] - pitch[0]}`] ?? tables.second.else;
      const own = head ? tables.owed.untreated : steps;
      const struck = at - theirs.onset < 0.2;
      const about = noteAt(exercise, work, n, each, struck ? theirs.onset : at, LIGHT);
      const excused = excuse(
        tables,
        exercise,
        about,
        isClash(tables, each === event.voice, before, theirs.pitch),
      );
      // As in the check, of two ways to look at a clash the one counts that knows how it is treated.
      if (!excused?.length || !own.length) return [];
      return [own, excused].find((way) => !way.some((rule) => tables.owed.untreated.includes(rule))) ?? own;
    });
    return { clashes, rules: rules.filter((rule) => this.isError(rule)) };
  }

  /** @param {string} rule */
  isError(rule) {
    return this.tables.rules[rule].severity[Math.min(5, this.exercise.voices.length)] === "error";
  }

  /**
   * The plain notes that are lost: neither at their beginning nor at any time before the next is their key struck
   * or still down.
   */
  lost() {
    const { plain, places, small, notes } = this;
    return plain
      .filter(({ key, start, end }, e) => {
        if (places[e] >= 0 && notes[places[e]].key === key) return false;
        return !small.some((note, k) => {
          const lasts = Math.max(0, notes[k].off - notes[k].on);
          return midiOf(note.pitch) === key && note.time < end - 0.01 && note.time + lasts > start + 0.05;
        });
      })
      .map(({ n }) => n);
  }
}

/**
 * What a small note is, by its steps and by whether it clashes.
 * @param {Pitch | undefined} before
 * @param {Pitch} pitch
 * @param {Pitch | undefined} after
 * @param {boolean} clashes
 * @returns {GraceKind}
 */
function kindOf(before, pitch, after, clashes) {
  const [came, goes] = [stepBetween(before, pitch), stepBetween(pitch, after)];
  if (samePitch(pitch, after)) return "anticipation";
  if (came && came === goes) return "passing";
  if (came && came === -goes) return "neighbour";
  return clashes ? "clash" : "belongs";
}
