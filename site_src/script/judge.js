// Verdicts on what the reader put in. Every verdict is looked up in tables that the rules themselves made;
// the script knows intervals and motion, and no rule.

/** @type {Severity[]} */
const GRAVEST_FIRST = ["error", "warning", "note"];
const [SIMILAR, CONTRARY, OBLIQUE] = [1, 2, 0];

/**
 * An entry of a table; where the size in semitones changes nothing, the key stands without it.
 * @param {RuleTable} table
 * @param {string} key
 */
function look(table, key) {
  return table[key] ?? table[key.slice(0, key.lastIndexOf(","))] ?? [];
}

/**
 * A pitch without its octave, as the tables name it.
 * @param {Pitch} pitch
 */
function classOf([step, alter]) {
  return `${step % 7},${alter}`;
}

/**
 * The distances of all notes from the lowest, as bits within an octave of so many parts.
 * @param {number[]} distances
 * @param {number} size
 */
function bitsOf(distances, size) {
  return distances.reduce((all, distance) => all | (1 << modulo(distance, size)), 0);
}

/** What all rules say of one sonority, its second notes, and the way to it. */
class Judging {
  /**
   * @param {Tables} tables
   * @param {Exercise} exercise
   * @param {Work} work
   * @param {number} n
   */
  constructor(tables, exercise, work, n) {
    this.tables = tables;
    this.exercise = exercise;
    this.work = work;
    this.n = n;
    this.event = exercise.events[n];
    /** @type {Met[]} */
    this.found = [];
    this.now = tonesAt(exercise, work, n);
    this.past = n > 0 && this.event.joined ? tonesAt(exercise, work, n - 1, lateToneAt) : [];
    this.late = isDivided(exercise, work, n) ? tonesAt(exercise, work, n, lateToneAt) : null;
  }

  /** All that is met, each once, without what the source allows here. */
  all() {
    const { now, past, late } = this;
    this.single(now);
    this.figures();
    this.cadence();
    this.moment(now, past, false);
    if (late) {
      this.single(late.filter(([voice]) => this.second(voice)));
      this.moment(late, now, true);
      this.clashes(late);
    }
    /** @type {Set<string>} */
    const told = new Set();
    return this.found.filter(({ rule, voices }) => {
      const key = [rule, ...voices].join();
      const known = told.has(key) || this.event.allowed.includes(rule);
      told.add(key);
      return !known;
    });
  }

  /**
   * @param {string} rule
   * @param {string[]} voices
   */
  add(rule, ...voices) {
    this.found.push({ rule, voices, owed: false });
  }

  /**
   * @param {Owing} what
   * @param {string[]} voices
   */
  owe(what, ...voices) {
    for (const rule of this.tables.owed[what]) this.add(rule, ...voices);
  }

  /** @param {string} voice */
  second(voice) {
    return secondTone(this.work, this.n, voice);
  }

  /**
   * The notes of the voices one by one.
   * @param {Tones} tones
   */
  single(tones) {
    const { event, exercise } = this;
    for (const [voice, pitch] of tones) {
      if (voice === event.voice) continue;
      if (midiOf(pitch) < midiOf(event.bass)) this.owe("undercut", voice, event.voice);
      for (const rule of exercise.notes[voice][pitch.join()] ?? []) this.add(rule, voice);
    }
  }

  figures() {
    const { event, tables, work, n } = this;
    const { here, owed } = bestReading(tables, this.exercise, work, n);
    this.found.push(...owed);
    for (const [voice, role] of here.roles) this.fourth(voice, role);
    for (const voice of here.foreign) this.foreign(voice);
    if (here.lack.length && event.figured) this.owe("lacking", ...event.upper);
  }

  /**
   * A note that the figure does not name.
   * @param {string} voice
   */
  foreign(voice) {
    const { event, tables } = this;
    // The check passes over a note that gives way to another before it outlasts half of its figure.
    if (event.figured && this.second(voice) && (event.half ?? 0) * 2 <= event.length) return;
    const pitch = this.work[voice][this.n] ?? event.bass;
    const steps = modulo(pitch[0] - event.bass[0], 7);
    const size = modulo(midiOf(pitch) - midiOf(event.bass), 12);
    if (event.figured) this.owe("foreign", voice);
    else if (tables.clash.includes(`${steps},${size}`)) this.owe("untreated", voice);
  }

  /**
   * A fourth that comes in by step over the bass and is held on belongs to the double cadence.
   * @param {string} voice
   * @param {number} role
   */
  fourth(voice, role) {
    const { event, exercise, work, n } = this;
    const pitch = work[voice][n];
    const came = this.past.find(([each]) => each === voice)?.[1];
    if (role !== this.tables.fourth || event.doppia || !pitch || !came) return;
    if ((pitch[0] - event.bass[0]) % 7 !== 3 || Math.abs(pitch[0] - came[0]) !== 1) return;
    const goes = this.second(voice) ?? toneAt(exercise, work, n + 1, voice);
    if (samePitch(pitch, goes)) this.owe("cadential", voice, event.voice);
  }

  /** What a cadence asks of the note before it, of the way into it, and of the close. */
  cadence() {
    const { event } = this;
    const came = new Map(this.past);
    for (const [voice, pitch] of this.now) {
      if (voice === event.voice) continue;
      const last = lateToneAt(this.exercise, this.work, this.n, voice) ?? pitch;
      if (event.raise?.includes(classOf(last))) this.owe("unraised", voice);
      if (event.minor?.includes(classOf(pitch))) this.owe("minor", voice);
      const from = came.get(voice);
      if (from && event.rise?.includes(classOf(from)) && midiOf(pitch) !== midiOf(from) + 1) {
        this.owe("astray", voice);
      }
    }
  }

  /**
   * Everything between two voices, and each voice's melody, at one moment and from the moment before.
   * @param {Tones} tones
   * @param {Tones} before
   * @param {boolean} second
   */
  moment(tones, before, second) {
    const came = new Map(before);
    tones.forEach((upper, i) => {
      tones.slice(i + 1).forEach((lower, k) => {
        const over = lower[0] === this.event.voice;
        const pair = { next: k === 0, over, outer: i === 0 && over, count: tones.length, second };
        this.pair(upper, lower, before, pair);
      });
    });
    this.stacked(tones, second);
    this.hands(tones, before);
    for (const [voice, pitch] of tones) {
      const from = came.get(voice);
      if (voice !== this.event.voice && from) this.melody(voice, pitch, from, second);
    }
  }

  /**
   * @param {Tones[number]} upper
   * @param {Tones[number]} lower
   * @param {Tones} before
   * @param {Pair} pair
   */
  pair(upper, lower, before, pair) {
    const [high, top] = upper;
    const [low, bottom] = lower;
    const [top0, bottom0] = [high, low].map((voice) => before.find(([each]) => each === voice)?.[1]);
    const struck = !samePitch(top0, top) || !samePitch(bottom0, bottom);
    /** @param {string[]} rules */
    const ask = (rules) => {
      for (const rule of rules) if (this.isAsked(rule, pair)) this.add(rule, high, low);
    };
    if (struck || !pair.second) ask(look(this.tables.together, interval(bottom, top)));
    if (struck) {
      // What two notes meet in this signature and tuning.
      const [under, over] = midiOf(bottom) <= midiOf(top) ? [bottom, top] : [top, bottom];
      ask(this.exercise.pairs[`${classOf(under)},${classOf(over)}`] ?? []);
    }
    if (struck && top0 && bottom0) {
      const outermost = before[0][0] === high && before[before.length - 1][0] === low;
      const here = { ...pair, outer: pair.outer && outermost };
      const lowest = low === this.event.voice && before[before.length - 1][0] === low;
      for (const rule of this.motion([top0, top], [bottom0, bottom])) {
        if (this.isAsked(rule, here)) this.found.push({ rule, voices: [high, low], owed: false, lowest });
      }
    }
  }

  /**
   * Whether a rule is asked here: of voices that are next to each other, the outer ones …, and at such a
   * place.
   * @param {string} rule
   * @param {Pair} pair
   */
  isAsked(rule, { next, over, outer, count, second }) {
    const { of, where, least } = this.tables.rules[rule];
    /** @type {Record<string, boolean | undefined>} */
    const voices = { neighbours: next, upper: next && !over, outer };
    const places = {
      inside: !this.event.free,
      beat: !second && this.event.weight > 0,
      struck: !second,
      firm: !second && this.event.weight >= 2,
    };
    return count >= least && (voices[of] ?? true) && where.every((place) => places[place]);
  }

  /**
   * What all that sounds makes over the lowest note, when every voice is there.
   * @param {Tones} tones
   * @param {boolean} second
   */
  stacked(tones, second) {
    if (tones.length !== this.event.upper.length + 1) return;
    const { stack } = this.tables;
    const pitches = tones.map(([, pitch]) => pitch);
    const lowest = pitches.reduce((low, pitch) => (midiOf(pitch) < midiOf(low) ? pitch : low));
    const numbers = bitsOf(
      pitches.map((pitch) => pitch[0] - lowest[0]),
      7,
    );
    const sizes = bitsOf(
      pitches.map((pitch) => midiOf(pitch) - midiOf(lowest)),
      12,
    );
    for (const rule of [...(stack.numbers[numbers] ?? []), ...(stack.sizes[sizes] ?? [])]) {
      const asked = this.isAsked(rule, { count: tones.length, second });
      if (asked) this.add(rule, ...tones.map(([voice]) => voice));
    }
  }

  /**
   * The rules that the stretch of the hands meets.
   * @param {Tones} tones
   */
  stretch(tones) {
    const { widest, digits, rules } = this.tables.hands;
    const steps = tones.map(([, pitch]) => pitch[0]).sort((a, b) => b - a);
    if (steps.length < 2) return rules[0];
    const gaps = steps.slice(1).map((step, k) => Math.min(widest, steps[k] - step));
    const place = gaps.reduce((at, gap) => at * (widest + 1) + gap, 0);
    return rules[Number(digits[steps.length - 2]?.[place] ?? 0)];
  }

  /**
   * A stretch that goes on is told once, and again when it becomes worse.
   * @param {Tones} tones
   * @param {Tones} before
   */
  hands(tones, before) {
    const was = this.stretch(before);
    /** @param {string} rule */
    const rank = (rule) => GRAVEST_FIRST.indexOf(this.tables.rules[rule].severity[1]);
    for (const rule of this.stretch(tones)) {
      if (was.every((other) => rank(other) > rank(rule))) this.add(rule, ...tones.map(([voice]) => voice));
    }
  }

  /**
   * The rules that the way of two voices meets, each from one note to another.
   * @param {[from: Pitch, to: Pitch]} upper
   * @param {[from: Pitch, to: Pitch]} lower
   */
  motion([top0, top1], [bottom0, bottom1]) {
    const { perfect, chromatic, across, motion } = this.tables;
    const way = Math.sign((midiOf(top1) - midiOf(top0)) * (midiOf(bottom1) - midiOf(bottom0)));
    const leap = Math.abs(top1[0] - top0[0]) > 1 ? 1 : 0;
    const kinds = [interval(bottom0, top0), interval(bottom1, top1)].map((size) => perfect[size] ?? 0);
    const key = [...kinds, [CONTRARY, OBLIQUE, SIMILAR][way + 1], leap].join();
    const moves = [interval(bottom0, bottom1), interval(top0, top1)];
    const crossing = across[moves.some((move) => chromatic.includes(move)) ? 1 : 0];
    const crossed = [interval(bottom0, top1), interval(bottom1, top0)].flatMap((size) =>
      look(crossing, size),
    );
    return new Set([...(motion[key] ?? []), ...crossed]);
  }

  /**
   * @param {string} voice
   * @param {Pitch} pitch
   * @param {Pitch} came
   * @param {boolean} second
   */
  melody(voice, pitch, came, second) {
    if (samePitch(pitch, came)) return;
    for (const rule of look(this.tables.melody, interval(came, pitch))) this.add(rule, voice);
    const first = this.noteBefore(voice, came, second);
    if (!first) return;
    const steps = `${came[0] - first[0]},${pitch[0] - came[0]}`;
    const whole = `${steps},${midiOf(pitch) - midiOf(first)}`; // steps, and the size of both together
    for (const rule of look(this.tables.turns, whole)) this.add(rule, voice);
  }

  /**
   * The last note of a voice that was another than `came`.
   * @param {string} voice
   * @param {Pitch} came
   * @param {boolean} second
   */
  noteBefore(voice, came, second) {
    const { exercise, work } = this;
    let k = second ? this.n : this.n - 1;
    let tone = toneAt(exercise, work, k, voice);
    while (tone && samePitch(tone, came)) {
      if (k < 1 || !exercise.events[k].joined) return null;
      k--;
      const late = lateToneAt(exercise, work, k, voice);
      if (!samePitch(late, came)) return late;
      tone = toneAt(exercise, work, k, voice);
    }
    return tone;
  }

  /**
   * A second note that clashes must pass, by the steps that lead to it and from it; or what it clashes with
   * is held and goes on as a suspension does.
   * @param {Tones} tones
   */
  clashes(tones) {
    const { tables, exercise, work, n } = this;
    const [first, late] = [new Map(this.now), new Map(tones)];
    /** @type {Set<string>} */
    const told = new Set();
    tones.forEach(([high], i) => {
      for (const [low] of tones.slice(i + 1)) {
        const struck = [high, low].filter((voice) => !samePitch(first.get(voice), late.get(voice)));
        const guilty = struck.includes(high) || !struck.length ? high : low;
        // As in the check, a note that clashes with two others at once is told once.
        if (!struck.length || told.has(guilty)) continue;
        for (const rule of clashRules(tables, exercise, work, n, [high, low], lateToneAt) ?? []) {
          told.add(guilty);
          this.add(rule, high, low);
        }
      }
    });
  }
}

/**
 * All verdicts on one sonority, its second notes, and the way to it: [rule, voices].
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 */
function verdicts(tables, exercise, work, n) {
  return new Judging(tables, exercise, work, n).all().map(({ rule, voices }) => [rule, voices]);
}

/**
 * Verdicts with their severity for so many voices.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @returns {Judged[]}
 */
function judge(tables, exercise, work, n) {
  const judging = new Judging(tables, exercise, work, n);
  const count = Math.min(6, Math.max(1, judging.now.length));
  return judging.all().map((each) => {
    const { severity, lowest } = tables.rules[each.rule];
    return {
      ...each,
      severity: ((each.lowest && lowest) || severity)[count - 1],
    };
  });
}

/**
 * Whether every voice above the line has its note.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 */
function isWhole(exercise, work, n) {
  return exercise.events[n].upper.every((voice) => work[voice][n]);
}

/**
 * Notes a voice may take at a sonority without an error, as things stand.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 */
function legalTones(tables, exercise, work, n, voice) {
  const [low, high] = exercise.compass[voice];
  /** @type {Hint[]} */
  const found = [];
  for (let step = low; step <= high; step++) {
    for (const alter of [-1, 0, 1]) {
      /** @type {Pitch} */
      const pitch = [step, alter];
      if (!(pitch.join() in exercise.hertz)) continue;
      const row = work[voice].map((each, k) => (k === n ? pitch : each));
      const tried = { ...work, [voice]: row };
      const met = judge(tables, exercise, tried, n);
      const own = met.filter(({ voices }) => voices.includes(voice) || !voices.length);
      if (own.some(({ severity }) => severity === "error")) continue;
      found.push({
        pitch,
        price: met.filter(({ severity }) => severity === "warning").length,
      });
    }
  }
  return found;
}
