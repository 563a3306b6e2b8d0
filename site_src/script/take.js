// From keys that were played in time to a setting: chords are gathered, laid over the line, and shared out among
// the voices. Late, early, rolled and held notes are understood; what passes inside a sonority is an ornament of it.
// Knows nothing of the page.

const ROLL = 0.27; // seconds: from the first to the last note of a chord, at the most
const GAP = 0.18; // between two notes of a rolled chord
const SHORT = 0.4; // of a sonority: nor by more than that
const BRIEF = 0.03;
const SHARE = 0.45; // of the shortest sonority: neither may be more
const OVERLAP = 0.17; // by which a note may outlast the chord that follows it
const SKIPPED = 3; // the most sonorities, or chords, that are passed over at once
const TIMED = 4; // how much a step out of time counts
const HELD_ON = 0.45; // what it costs that nothing is struck at a sonority
const ANCHOR = 0.8; // what it costs that the first chord is a second off its time
const INSIDE = 0.55; // what it costs that a chord stands inside a sonority
const MOST_OF_LINE = 0.6; // share of chords in which the line must be the lowest key
const STRANGE = 0.8; // what it costs that all keys of a chord are foreign to a figure

/**
 * Chords: notes that begin together, or are rolled.
 * @param {PlayedKey[]} notes in order of their beginning
 * @param {number} shortest seconds of the shortest sonority
 */
function chordsOf(notes, shortest) {
  const gap = Math.min(GAP, SHARE * shortest);
  /** @type {PlayedKey[][]} */
  const found = [];
  for (const note of notes) {
    const chord = found.at(-1);
    const last = chord?.at(-1);
    if (chord && last && note.on - chord[0].on <= ROLL && note.on - last.on <= gap) chord.push(note);
    else found.push([note]);
  }
  return found;
}

/**
 * Keys that are down at a time, and go on from there.
 * @param {PlayedKey[]} notes
 * @param {number} time
 * @param {number} least seconds for which a note that began before still sounds
 */
function keysDown(notes, time, least) {
  return notes.filter(
    ({ on, off }) => on <= time + 1e-6 && (off > time + least || (on > time - ROLL && off > time)),
  );
}

/** Lays chords over the sonorities of an exercise. */
class Laying {
  /**
   * @param {Exercise} exercise
   * @param {PlayedKey[]} notes in order of their beginning
   */
  constructor(exercise, notes) {
    this.exercise = exercise;
    this.notes = notes;
    this.asked = exercise.events.flatMap((event, n) => (event.upper.length ? [n] : []));
    const shortest = Math.min(...this.asked.map((n) => exercise.events[n].end - exercise.events[n].start));
    this.chords = chordsOf(notes, shortest).map((chord) => {
      const last = chord[chord.length - 1].on;
      return {
        at: chord.reduce((sum, { on }) => sum + on, 0) / chord.length,
        last,
        down: keysDown(notes, last, OVERLAP),
      };
    });
    this.named = this.asked.map((n) => this.classesOf(exercise.events[n]));
  }

  /**
   * The classes of keys that a sonority may have.
   * @param {Sonority} event
   */
  classesOf({ bass, variants }) {
    const found = variants.flatMap(({ members }) =>
      members.map(([number, alter]) => modulo(midiOf([bass[0] + number - 1, alter]), 12)),
    );
    return new Set([...found, modulo(midiOf(bass), 12)]);
  }

  /**
   * What speaks against a chord at a sonority: the share of its keys that are foreign there, and of the voices
   * that lack a note.
   * @param {number} e
   * @param {PlayedKey[]} down
   */
  strange(e, down) {
    if (!down.length) return 1;
    const foreign = down.filter(({ key }) => !this.named[e].has(modulo(key, 12))).length;
    return foreign / down.length;
  }

  /**
   * For each sonority that asks for voices the place of its chord (-1: nothing is struck there).
   * @returns {number[]}
   */
  places() {
    const { asked, chords, exercise } = this;
    const starts = asked.map((n) => exercise.events[n].start);
    /** @type {{ cost: number, from: [number, number] | null }[][]} */
    const best = asked.map(() => chords.map(() => ({ cost: Infinity, from: null })));
    asked.forEach((_, e) => {
      chords.forEach((chord, c) => {
        const here = STRANGE * this.strange(e, chord.down);
        const cell = best[e][c];
        if (e < SKIPPED && c < SKIPPED) {
          const off = ANCHOR * Math.abs(chord.at - starts[e]);
          cell.cost = here + off + e * 2 * HELD_ON + c * INSIDE;
        }
        for (let e0 = Math.max(0, e - 1 - SKIPPED); e0 < e; e0++) {
          for (let c0 = Math.max(0, c - 1 - SKIPPED); c0 < c; c0++) {
            const before = best[e0][c0].cost;
            if (before >= cell.cost) continue;
            const cost = before + here + this.between(starts, e0, e, c0, c);
            if (cost < cell.cost) Object.assign(cell, { cost, from: [e0, c0] });
          }
        }
      });
    });
    return this.traced(best);
  }

  /**
   * What it costs that a chord is held on through some sonorities.
   * @param {number} from
   * @param {number} to
   * @param {number} c
   */
  held(from, to, c) {
    let cost = 0;
    for (let e = from; e < to; e++) cost += HELD_ON + STRANGE * this.strange(e, this.chords[c].down);
    return cost;
  }

  /**
   * What it costs to go from one chord at a sonority to another at a later one.
   * @param {number[]} starts
   * @param {number} e0
   * @param {number} e
   * @param {number} c0
   * @param {number} c
   */
  between(starts, e0, e, c0, c) {
    const asked = Math.max(0.05, starts[e] - starts[e0]);
    const played = Math.max(0.05, this.chords[c].at - this.chords[c0].at);
    return TIMED * Math.log(played / asked) ** 2 + (c - c0 - 1) * INSIDE + this.held(e0 + 1, e, c0);
  }

  /**
   * @param {{ cost: number, from: [number, number] | null }[][]} best
   * @returns {number[]}
   */
  traced(best) {
    const { asked, chords } = this;
    const found = asked.map(() => -1);
    let [end, e, c] = [Infinity, -1, -1];
    best.forEach((row, e0) =>
      row.forEach(({ cost }, c0) => {
        const whole = cost + this.held(e0 + 1, asked.length, c0) + (chords.length - 1 - c0) * INSIDE;
        if (whole < end) [end, e, c] = [whole, e0, c0];
      }),
    );
    while (e >= 0) {
      found[e] = c;
      const { from } = best[e][c];
      [e, c] = from ?? [-1, -1];
    }
    return found;
  }

  /**
   * The keys that are down at a sonority, with those that a slow roll still brings.
   * @param {number} e
   * @param {number[]} places
   * @param {number[]} times
   * @param {number} share of the sonority for which a note that began before must go on
   */
  downAt(e, places, times, share) {
    const { start, end } = this.exercise.events[this.asked[e]];
    const least = Math.min(OVERLAP, share * (end - start));
    const c = places[e];
    if (c < 0) return keysDown(this.notes, times[e], Math.min(0.05, least));
    const later = this.chords[c + 1];
    const rolls = later && !places.includes(c + 1) && later.last - this.chords[c].at <= ROLL;
    return keysDown(this.notes, rolls ? later.last : this.chords[c].last, least);
  }

  /**
   * When each sonority was played: at its chord, or between its neighbours where nothing was struck.
   * @param {number[]} places
   */
  times(places) {
    const { asked, chords, exercise } = this;
    const start = (/** @type {number} */ e) => exercise.events[asked[e]].start;
    return places.map((c, e) => {
      if (c >= 0) return chords[c].last;
      const before = places.findLastIndex((each, k) => k < e && each >= 0);
      const after = places.findIndex((each, k) => k > e && each >= 0);
      if (before < 0) return -1;
      const from = chords[places[before]].at;
      if (after < 0) return from + start(e) - start(before);
      const share = (start(e) - start(before)) / (start(after) - start(before));
      return from + share * (chords[places[after]].at - from);
    });
  }
}

/**
 * A setting from what was played over the line, with how far each sonority was out of time (seconds), where
 * anything was struck.
 * @param {Exercise} exercise
 * @param {PlayedKey[]} played
 * @param {(work: Work, n: number) => number} faults
 * @returns {{ work: Work, late: (number | null)[] }}
 */
function settingOf(exercise, played, faults) {
  const notes = [...played].sort((a, b) => a.on - b.on);
  let work = emptyWork(exercise);
  const laying = new Laying(exercise, notes);
  const places = laying.places();
  const times = laying.times(places);
  const line = isLinePlayed(laying, places);
  /** @type {(number | null)[]} */
  const late = exercise.events.map(() => null);
  /** @type {Map<number, Pitch[][]>} */
  const choices = new Map();
  laying.asked.forEach((n, e) => {
    if (times[e] < 0) return;
    const keys = voiceKeys(exercise, n, laying.downAt(e, places, times, SHORT), line);
    // Where a key is lacking, one that was let go early may have been meant.
    if (keys.every((each) => each.length < exercise.events[n].upper.length)) {
      keys.push(...voiceKeys(exercise, n, laying.downAt(e, places, times, BRIEF), line));
    }
    choices.set(
      n,
      keys.map((each) => spelledKeys(exercise, n, each)),
    );
    work = shared(exercise, work, n, choices.get(n) ?? [], (each) => faults(each, n));
    if (places[e] >= 0) late[n] = laying.chords[places[e]].at - exercise.events[n].start;
  });
  // Where voices share a note, what follows tells which of them.
  for (const [n, pitches] of choices) {
    if (pitches.every((each) => each.length === exercise.events[n].upper.length)) continue;
    const next = Math.min(n + 1, exercise.events.length - 1);
    work = shared(exercise, work, n, pitches, (each) => faults(each, n) + faults(each, next));
  }
  return { work, late };
}

/**
 * The best of the ways in which some notes, or others, are shared out.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {Pitch[][]} choices
 * @param {(work: Work) => number} faults
 * @returns {Work}
 */
function shared(exercise, work, n, choices, faults) {
  /** @param {Work} each */
  const price = (each) => faults(each) * 100 + wayOf(exercise, each, n);
  const found = choices.map((pitches) => shareOut(exercise, work, n, pitches, price));
  const whole = found.filter((each) => each !== null).sort((a, b) => price(a) - price(b));
  return whole[0] ?? fewer(exercise, work, n, choices[0] ?? []);
}

/**
 * The keys of the voices above the line: where there are too many, those that go on longest. Where the line is
 * played as well and a key is lacking, a voice may stand on the line's own: both are given.
 * @param {Exercise} exercise
 * @param {number} n
 * @param {PlayedKey[]} down
 * @param {boolean} line whether the line was played as well
 */
function voiceKeys(exercise, n, down, line = false) {
  const { bass, upper } = exercise.events[n];
  const own = midiOf(bass);
  const longest = [...new Map(down.map((note) => [note.key, note])).values()].sort((a, b) => b.off - a.off);
  const all = longest.map(({ key }) => key);
  const above = all.filter((key) => key !== own);
  if (!line) return [(all.length <= upper.length ? all : above).slice(0, upper.length)];
  const ways = [above.slice(0, upper.length)];
  if (above.length < upper.length && all.length > above.length) ways.push(all);
  return ways.filter((keys) => keys.length);
}

/**
 * Whether the line was played as well: its own key is the lowest in most chords.
 * @param {Laying} laying
 * @param {number[]} places
 */
function isLinePlayed({ asked, chords, exercise }, places) {
  const struck = asked.filter((_, e) => places[e] >= 0);
  const own = struck.filter((n) => {
    const down = chords[places[asked.indexOf(n)]].down.map(({ key }) => key);
    return Math.min(...down) === midiOf(exercise.events[n].bass);
  });
  return own.length > struck.length * MOST_OF_LINE;
}

/**
 * How far the voices move into a sonority, in staff steps.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 */
function wayOf(exercise, work, n) {
  return exercise.events[n].upper.reduce((sum, voice) => {
    const [from, to] = [n > 0 ? work[voice][n - 1] : null, work[voice][n]];
    return sum + (from && to ? Math.abs(to[0] - from[0]) : 0);
  }, 0);
}

/**
 * Too few notes for the voices: what there is, from the highest down.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {Pitch[]} pitches
 */
function fewer(exercise, work, n, pitches) {
  const high = [...pitches].sort((a, b) => midiOf(b) - midiOf(a));
  /** @type {Work} */
  const next = { ...work };
  exercise.events[n].upper.forEach((voice, k) => {
    next[voice] = work[voice].map((each, at) => (at === n ? (high[k] ?? null) : each));
  });
  return next;
}
