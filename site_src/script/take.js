// From keys that were played in time to a setting: what `laying.js` has found at each sonority is shared out among
// the voices. Of readings that are equally good in time the one is taken that the rules mind least; late, early,
// rolled and held notes are understood. Costs are negative logarithms of chances. Knows nothing of the page.

const SURE = 6; // a key that is so likely down, or up, is not asked about
const DOUBTS = 4; // the most keys at once that may be down or not
const SOFT = 0.025; // seconds: how sharply a key that goes on is told from one that is let go late
const SOFT_HELD = 0.05; // the same where nothing is struck
const MOST_BEFORE = 24; // keys before a stroke that may still be down
const TOO_EARLY = 2.5; // what it costs that the last key of a stroke is an early one of the next
const SLIP = 4; // what it costs that a key was struck and not meant
const FAULT = 2; // what an error costs, and how many are counted at a sonority
const MOST_FAULTS = 3;
const BLEMISH = 0.15; // what a warning costs
const STEP = 0.03; // what it costs that a voice moves by a step
const GRACED_IN = 0.13; // seconds in which a grace has gone on to the next key
const APART_BY = 0.03; // seconds: what begins closer together is one stroke
const LEGATO = 0.03; // seconds by which a grace may outlast the next key's beginning
const WAYS = 8; // settings that are carried on from one sonority to the next

/**
 * Minus the logarithm of a chance, by how much speaks for it.
 * @param {number} lean
 */
function doubt(lean) {
  return lean > 30 ? 0 : lean < -30 ? -lean : Math.log1p(Math.exp(-lean));
}

/**
 * Keys without the graces before others: what is let go as the next key begins, a step or a tone away or the same
 * once more, so soon that it is no note of its own (mordents, trills, short notes before the beat). The key that they
 * adorn begins with the first of them.
 * @param {PlayedKey[]} notes in order of their beginning
 */
function withoutGraces(notes) {
  const starts = notes.map(({ on }) => on);
  const kept = notes.filter(({ key, on, off }, k) => {
    for (let j = k + 1; j < notes.length && notes[j].on - on < GRACED_IN; j++) {
      const next = notes[j];
      const near = Math.abs(next.key - key) <= 2 && next.on - on > APART_BY;
      if (!near || off >= next.on + LEGATO) continue;
      starts[j] = Math.min(starts[j], starts[k]);
      return false;
    }
    return true;
  });
  if (kept.length === notes.length) return notes;
  const begun = new Map(notes.map((note, k) => [note, starts[k]]));
  return kept
    .map((note) => ({ ...note, on: begun.get(note) ?? note.on }))
    .sort((one, other) => one.on - other.on);
}

/** A take that is read while it goes on. */
class TakeReading {
  /**
   * @param {Exercise} exercise
   * @param {Rulings} rulings
   * @param {number} rate seconds of the verset to one of the hands: times of a take are those of the verset
   */
  constructor(exercise, rulings, rate = 1) {
    this.exercise = exercise;
    this.rulings = rulings;
    this.rate = rate;
    /** @type {PlayedKey[]} */
    this.notes = [];
    this.heard = -Infinity;
    this.layings = [new Laying(exercise, false, rate), new Laying(exercise, true, rate)];
    /** @type {ReadSonority[]} */
    this.read = [];
    this.work = emptyWork(exercise);
    /** @type {(number | null)[]} */
    this.late = exercise.events.map(() => null);
    this.reached = -1; // the last sonority that has been played
  }

  /**
   * Hear what was played until now.
   * @param {PlayedKey[]} played in order of their beginning: those of the last time, and new ones
   * @param {number} now
   */
  hear(played, now) {
    const { rate } = this;
    const time = now / rate;
    this.notes = withoutGraces(played.map(({ key, on, off }) => ({ key, on: on / rate, off: off / rate })));
    const ways = this.layings.map((laying) => laying.hear(this.notes, time).way());
    const line = ways[1].cost < ways[0].cost ? 1 : 0;
    this.share(this.layings[line], ways[line].strokes);
    this.heard = time;
    return this;
  }

  /**
   * Share out what was played, from the first sonority that may now be another.
   * @param {Laying} laying
   * @param {(Stroke | null)[]} strokes
   */
  share(laying, strokes) {
    const times = laying.times(strokes);
    const fresh = this.read.findIndex(
      (each, e) =>
        each.laying !== laying ||
        each.stroke !== strokes[e] ||
        each.time !== times[e] ||
        (each.time ?? Infinity) > this.heard - SETTLED,
    );
    if (fresh >= 0) this.read.length = fresh;
    let settings = this.read.at(-1)?.settings ?? [{ work: emptyWork(this.exercise), cost: 0 }];
    for (let e = this.read.length; e < strokes.length; e++) {
      const time = times[e];
      if (time !== null) settings = this.goOn(settings, laying, e, strokes, time);
      this.read.push({ laying, stroke: strokes[e], time, settings });
    }
    this.work = settings[0].work;
    this.late.fill(null);
    strokes.forEach((stroke, e) => {
      const { n, start } = laying.places[e];
      if (stroke) this.late[n] = stroke.at - start;
    });
    const last = times.findLastIndex((each) => each !== null);
    this.reached = last < 0 ? -1 : laying.places[last].n;
  }

  /**
   * The best settings up to a sonority, from those up to the one before.
   * @param {CostlyWork[]} settings
   * @param {Laying} laying
   * @param {number} e
   * @param {(Stroke | null)[]} strokes
   * @param {number} time
   */
  goOn(settings, laying, e, strokes, time) {
    const { exercise } = this;
    const { n } = laying.places[e];
    const sounding = this.sounding(laying, e, strokes, time);
    const heard = sounding.flatMap(({ keys, struck, cost }) =>
      voiceKeys(exercise, n, keys, laying.line, struck).map((each) => ({
        pitches: spelledKeys(exercise, n, each.keys),
        cost: cost + each.cost,
      })),
    );
    const tried = settings.flatMap((before) =>
      heard.flatMap(({ pitches, cost }) =>
        sharedOut(exercise, before.work, n, pitches).map((work) => ({
          work,
          cost: before.cost + cost + STEP * wayOf(exercise, work, n),
        })),
      ),
    );
    return tried.length ? this.leastMinded(tried, n) : settings;
  }

  /**
   * The few settings that the rules, too, mind least. They are asked only of those that may be among them.
   * @param {CostlyWork[]} tried
   * @param {number} n
   */
  leastMinded(tried, n) {
    /** @type {CostlyWork[]} */
    const found = [];
    for (const { work, cost } of tried.sort((a, b) => a.cost - b.cost)) {
      if (found.length === WAYS && cost >= found[WAYS - 1].cost) break;
      const faults = this.rulings.faults(work, n);
      const errors = Math.min(MOST_FAULTS, Math.floor(faults / 100));
      const whole = cost + FAULT * errors + BLEMISH * (faults % 100);
      const place = found.findIndex((each) => each.cost > whole);
      found.splice(place < 0 ? found.length : place, 0, { work, cost: whole });
      found.length = Math.min(found.length, WAYS);
    }
    return found;
  }

  /**
   * Which keys may be meant at a sonority: what is struck, and what began before and goes on long enough. The last
   * key of a stroke may be an early one of the next.
   * @param {Laying} laying
   * @param {number} e
   * @param {(Stroke | null)[]} strokes
   * @param {number} time
   * @returns {HeardKeys[]}
   */
  sounding(laying, e, strokes, time) {
    const stroke = strokes[e];
    if (!stroke) {
      const began = this.notes.findIndex(({ on }) => on > time);
      return this.goingOn(laying, e, [], began < 0 ? this.notes.length : began, time);
    }
    const { from, end } = stroke;
    const all = this.goingOn(laying, e, this.notes.slice(from, end), from, time);
    const last = this.notes[end - 1];
    const next = strokes[e + 1];
    const early = next?.from === end && next.last - last.on < ROLL && last.off > next.last;
    if (!early || end - from < 2) return all;
    const without = this.goingOn(laying, e, this.notes.slice(from, end - 1), from, this.notes[end - 2].on);
    return [...all, ...without.map(({ keys, cost, struck }) => ({ keys, struck, cost: cost + TOO_EARLY }))];
  }

  /**
   * Some keys that are struck, with those that began before and may be meant to go on.
   * @param {Laying} laying
   * @param {number} e
   * @param {PlayedKey[]} struck
   * @param {number} from how many keys came before
   * @param {number} time
   * @returns {HeardKeys[]}
   */
  goingOn(laying, e, struck, from, time) {
    const { overlap } = laying.places[e];
    const soft = struck.length ? SOFT : SOFT_HELD;
    const before = this.notes.slice(Math.max(0, from - MOST_BEFORE), from).reverse();
    let found = [{ keys: struck, struck, cost: 0 }];
    let doubts = 0;
    for (const note of before) {
      if (struck.some(({ key }) => key === note.key)) continue;
      const lean = (note.off - time - overlap) / soft;
      if (lean < -SURE) continue;
      const open = lean < SURE && doubts++ < DOUBTS;
      if (!open && lean < 0) continue;
      found = found.flatMap(({ keys, cost }) => [
        { keys: [...keys, note], struck, cost: cost + (open ? doubt(lean) : 0) },
        ...(open ? [{ keys, struck, cost: cost + doubt(-lean) }] : []),
      ]);
    }
    return found;
  }
}

/**
 * A setting from what was played over the line, with how far each sonority was out of time (seconds), where
 * anything was struck.
 * @param {Exercise} exercise
 * @param {PlayedKey[]} played
 * @param {Rulings} rulings
 * @param {number} rate as in `TakeReading`
 * @returns {{ work: Work, late: (number | null)[] }}
 */
function settingOf(exercise, played, rulings, rate = 1) {
  const notes = [...played].sort((a, b) => a.on - b.on);
  const { work, late } = new TakeReading(exercise, rulings, rate).hear(notes, Infinity);
  return { work, late };
}

/**
 * All ways in which some notes fill the voices of a sonority.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {Pitch[]} pitches
 * @returns {Work[]}
 */
function sharedOut(exercise, work, n, pitches) {
  const open = openVoices(exercise, n);
  const high = [...pitches].sort((a, b) => midiOf(b) - midiOf(a));
  return waysToShare(high.length, open.length).map((way) => {
    /** @type {Work} */
    const next = { ...work };
    open.forEach((voice, k) => {
      next[voice] = work[voice].map((each, at) => (at === n ? high[way[k]] : each));
    });
    return next;
  });
}

/**
 * The keys that the student's voices may have, with what speaks against each way. Where the line is played as well,
 * or notes that stand there, a voice may stand on such a key; where there are too many, any may be a slip.
 * @param {Exercise} exercise
 * @param {number} n
 * @param {PlayedKey[]} down
 * @param {boolean} line whether the line was played as well
 * @param {PlayedKey[]} struck those that were struck here
 * @returns {{ keys: number[], cost: number }[]} the longest keys first
 */
function voiceKeys(exercise, n, down, line = false, struck = down) {
  const own = midiOf(exercise.events[n].bass);
  const count = openVoices(exercise, n).length;
  const standing = standingKeys(exercise, n);
  const longest = [...new Map(down.map((note) => [note.key, note])).values()].sort(
    (a, b) => b.off - a.off || 0,
  );
  const all = longest.map(({ key }) => key);
  const free = all.filter((key) => !standing.has(key));
  const above = free.filter((key) => key !== own);
  const slips = new Set(struck.map(({ key }) => key));
  /** @param {number[]} keys */
  const taken = (keys) =>
    chosen(keys, count).map((each) => {
      const left = keys.filter((key) => !each.includes(key));
      const spare = left.reduce((sum, key) => sum + (slips.has(key) ? SLIP : SPARE), 0);
      return { keys: each, cost: spare + LACKING * Math.max(0, count - each.length) };
    });
  const meant = !line && free.length <= count ? free : above;
  const ways = taken(meant);
  if ((line || standing.size) && meant.length < count && all.length > meant.length) {
    ways.push(...taken(all).map(({ keys, cost }) => ({ keys, cost: cost + ON_LINE })));
  }
  return line || standing.size ? ways.filter(({ keys }) => keys.length) : ways;
}

/**
 * All ways to take so many of some things, in their order.
 * @param {number[]} things
 * @param {number} count
 * @returns {number[][]}
 */
function chosen(things, count) {
  if (things.length <= count) return [things];
  if (!count) return [[]];
  const [first, ...rest] = things;
  return [...chosen(rest, count - 1).map((each) => [first, ...each]), ...chosen(rest, count)];
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
