// Verdicts on what the reader put in. Every verdict is looked up in tables that the rules themselves made; the
// script knows intervals and motion, and no rule.

/** What a voice has at a sonority: the given note, the reader's, or nothing. */
function toneAt(exercise, work, n, voice) {
  const event = exercise.events[n];
  if (!event) return null;
  if (voice === event.voice) return event.bass;
  return event.upper.includes(voice) ? work[voice]?.[n] ?? null : null;
}

/** Whether some voice has a second note at a sonority. */
function isDivided(exercise, work, n) {
  const event = exercise.events[n];
  return Boolean(event?.half) && event.upper.some((voice) => secondTone(work, n, voice));
}

/** What a voice has at the end of a sonority. */
function lateToneAt(exercise, work, n, voice) {
  if (!isDivided(exercise, work, n)) return toneAt(exercise, work, n, voice);
  if (voice === exercise.events[n].voice) return exercise.events[n].late;
  return secondTone(work, n, voice) ?? toneAt(exercise, work, n, voice);
}

/** Sounding voices at the start of a sonority (or at its end), highest first: [voice, pitch]. */
function tonesAt(exercise, work, n, tone = toneAt) {
  const event = exercise.events[n];
  return [...event.upper, event.voice]
    .map((voice) => [voice, tone(exercise, work, n, voice)])
    .filter(([, pitch]) => pitch);
}

function interval(from, to) {
  return `${to[0] - from[0]},${midiOf(to) - midiOf(from)}`;
}

/** An entry of a table; where the size in semitones changes nothing, the key stands without it. */
function look(table, key) {
  return table[key] ?? table[key.slice(0, key.lastIndexOf(","))] ?? [];
}

/** The readings of a figure that fit best: foreign voices, numbers that lack, and the role of each voice. */
function readings(exercise, work, n) {
  const event = exercise.events[n];
  const tones = event.upper.map((voice) => [voice, work[voice][n]]).filter(([, pitch]) => pitch);
  const whole = tones.length === event.upper.length;
  const has = ([step, alter], [number, its]) =>
    step % 7 === (event.bass[0] + number - 1) % 7 && alter === its;
  const isBass = (pitch) => (pitch[0] - event.bass[0]) % 7 === 0 && pitch[1] === event.bass[1];
  let best = [];
  for (const variant of event.variants) {
    const foreign = tones.filter(([, pitch]) => !isBass(pitch) && !variant.members.some((m) => has(pitch, m)));
    const must = whole ? variant.must : [];
    const lack = must.filter((number) => {
      const member = variant.members.find(([its]) => its === number);
      return !tones.some(([voice, pitch]) => has(pitch, member) || has(secondTone(work, n, voice) ?? pitch, member));
    });
    const fault = foreign.length * 10 + lack.length;
    if (best.length && best[0].fault < fault) continue;
    const roles = new Map();
    for (const [voice, pitch] of tones) roles.set(voice, variant.members.find((m) => has(pitch, m))?.[2] ?? 0);
    const found = { fault, foreign: foreign.map(([voice]) => voice), lack, roles };
    best = best.length && best[0].fault === fault ? [...best, found] : [found];
  }
  return best.length ? best : [{ fault: 0, foreign: [], lack: [], roles: new Map() }];
}

const ADORNED = 4; // widest interval, in steps, of a note between a dissonance and its fall

/** Of several ways to look at a note, what the kindest finds. */
function fewest(ways) {
  return ways.reduce((kindest, way) => (way.length < kindest.length ? way : kindest));
}

/** What bound tones owe to where they come from: the note before, or the one that this adorned. */
function owedBefore(tables, exercise, work, n, here) {
  const found = [];
  for (const [voice, role] of here.roles) {
    const joined = n > 0 && exercise.events[n].joined;
    const came = joined ? [lateToneAt(exercise, work, n - 1, voice), toneAt(exercise, work, n - 1, voice)] : [null];
    // Where the exercise begins, and where the reader has left a gap, nothing is known of what came before.
    if (!came[0] && (n === 0 || exercise.events[n - 1].upper.includes(voice))) continue;
    const table = tables.entered[role];
    const ways = came.map((from) => table[from ? interval(from, work[voice][n]) : "none"] ?? table.else);
    for (const rule of fewest(ways)) found.push({ rule, voices: [voice], owed: false });
  }
  return found;
}

/** What bound tones of the sonority before owe to where they go. */
function owedAfter(tables, exercise, work, n, then, here) {
  const found = [];
  const event = exercise.events[n];
  for (const [voice, role] of then.roles) {
    const from = work[voice][n - 1];
    const within = secondTone(work, n - 1, voice);
    const goes = toneAt(exercise, work, n, voice);
    const bound = voice !== event.voice && (here.roles.get(voice) ?? 0) !== 0 ? 1 : 0;
    const broken = (to, its) => {
      const table = tables.left[`${role},${its},${event.stays ? 1 : 0}`];
      return table[interval(from, to)] ?? table.else;
    };
    if (within && role === tables.pedal) {
      // What passes is judged by its steps, and only where it clashes.
      const others = tonesAt(exercise, work, n - 1).filter(([each]) => each !== voice);
      for (const [other] of others) {
        for (const rule of clashRules(tables, exercise, work, n - 1, voice, other, toneAt) ?? []) found.push({ rule, voices: [voice, other], owed: true });
      }
      continue;
    }
    // A second note is where the first one goes, or it adorns the way to the next sonority.
    const ways = within ? [broken(within, 0)] : [];
    if (goes && (!within || Math.abs(within[0] - from[0]) <= ADORNED)) ways.push(broken(goes, bound));
    if (!ways.length || (!goes && event.upper.includes(voice))) continue;
    for (const rule of fewest(ways)) found.push({ rule, voices: [voice], owed: true });
  }
  return found;
}

/** The reading that owes least, with what it owes. */
function bestReading(tables, exercise, work, n) {
  const joined = n > 0 && exercise.events[n].joined;
  let pasts = joined ? readings(exercise, work, n - 1) : [null];
  if (joined) {
    const debts = pasts.map((past) => owedBefore(tables, exercise, work, n - 1, past).length);
    pasts = pasts.filter((_, k) => debts[k] === Math.min(...debts));
  }
  let best = null;
  for (const here of readings(exercise, work, n)) {
    const before = owedBefore(tables, exercise, work, n, here);
    for (const past of pasts) {
      const owed = [...before, ...(past ? owedAfter(tables, exercise, work, n, past, here) : [])];
      if (!best || owed.length < best.owed.length) best = { here, owed };
    }
  }
  return best;
}

/** A pitch without its octave, as the tables name it. */
function classOf([step, alter]) {
  return `${step % 7},${alter}`;
}

/** All verdicts on one sonority, its second notes, and the way to it: [rule, voices]. */
function verdicts(tables, exercise, work, n) {
  return met(tables, exercise, work, n).map(({ rule, voices }) => [rule, voices]);
}

/** The same with `owed`: whether a note of the sonority before is at fault, for where it goes. */
function met(tables, exercise, work, n) {
  const found = [];
  const add = (rule, ...voices) => found.push({ rule, voices, owed: false });
  const owe = (what, ...voices) => tables.owed[what].forEach((rule) => add(rule, ...voices));
  const event = exercise.events[n];
  const now = tonesAt(exercise, work, n);
  const past = n > 0 && event.joined ? tonesAt(exercise, work, n - 1, lateToneAt) : [];

  sonority(now);
  figures();
  cadence(now, past);
  step(now, past, false);
  if (isDivided(exercise, work, n)) {
    const late = tonesAt(exercise, work, n, lateToneAt);
    sonority(late.filter(([voice]) => secondTone(work, n, voice)));
    step(late, now, true);
    clashes(late);
  }

  /** The notes of the voices one by one. */
  function sonority(tones) {
    for (const [voice, pitch] of tones) {
      if (voice === event.voice) continue;
      if (midiOf(pitch) < midiOf(event.bass)) owe("undercut", voice, event.voice);
      for (const rule of exercise.notes[voice][pitch.join()] ?? []) add(rule, voice);
    }
  }

  function figures() {
    const { here, owed } = bestReading(tables, exercise, work, n);
    found.push(...owed);
    for (const [voice, role] of here.roles) fourth(voice, role);
    for (const voice of here.foreign) {
      // The check passes over a note that gives way to another before it outlasts half of its figure.
      if (event.figured && secondTone(work, n, voice) && event.half * 2 <= event.length) continue;
      const pitch = work[voice][n];
      const steps = (((pitch[0] - event.bass[0]) % 7) + 7) % 7;
      const size = (((midiOf(pitch) - midiOf(event.bass)) % 12) + 12) % 12;
      if (event.figured) owe("foreign", voice);
      else if (tables.clash.includes(`${steps},${size}`)) owe("untreated", voice);
    }
    if (here.lack.length && event.figured) owe("lacking", ...event.upper);
  }

  /** A fourth that comes in by step over the bass and is held on belongs to the double cadence. */
  function fourth(voice, role) {
    const pitch = work[voice][n];
    const came = past.find(([each]) => each === voice)?.[1];
    const goes = secondTone(work, n, voice) ?? (exercise.events[n + 1] ? toneAt(exercise, work, n + 1, voice) : null);
    if (role !== tables.fourth || event.doppia || (pitch[0] - event.bass[0]) % 7 !== 3 || !came) return;
    if (Math.abs(pitch[0] - came[0]) === 1 && samePitch(pitch, goes)) owe("cadential", voice, event.voice);
  }

  /** What a cadence asks of the note before it, of the way into it, and of the close. */
  function cadence(tones, before) {
    const came = new Map(before);
    for (const [voice, pitch] of tones) {
      if (voice === event.voice) continue;
      const last = lateToneAt(exercise, work, n, voice);
      if (event.raise?.includes(classOf(last))) owe("unraised", voice);
      if (event.minor?.includes(classOf(pitch))) owe("minor", voice);
      const from = came.get(voice);
      if (from && event.rise?.includes(classOf(from)) && midiOf(pitch) !== midiOf(from) + 1) owe("astray", voice);
    }
  }

  /** Everything between two voices, and each voice's melody, at one moment and from the moment before. */
  function step(tones, before, second) {
    const came = new Map(before);
    const moved = ([voice, pitch]) => !samePitch(came.get(voice), pitch);
    tones.forEach((upper, i) => {
      tones.slice(i + 1).forEach((lower, k) => {
        const [high, top] = upper;
        const [low, bottom] = lower;
        const pair = { next: k === 0, over: low === event.voice, outer: i === 0 && low === event.voice, count: tones.length, second };
        const struck = moved(upper) || moved(lower);
        if (struck || !second) together(high, top, low, bottom, pair);
        if (struck) sounding(high, top, low, bottom, pair);
        if (came.has(high) && came.has(low)) motion(before, high, low, came.get(high), top, came.get(low), bottom, pair);
      });
    });
    stacked(tones, second);
    hands(tones, before);
    for (const [voice, pitch] of tones) {
      const from = came.get(voice);
      if (voice !== event.voice && from) melody(voice, pitch, from, second);
    }
  }

  /** Whether a rule is asked here: of voices that are next to each other, the outer ones …, and at such a place. */
  function isAsked(rule, { next, over, outer, count, second }) {
    const { of, where, least } = tables.rules[rule];
    const voices = { neighbours: next, upper: next && !over, outer };
    const places = {
      inside: !event.free,
      beat: !second && event.weight > 0,
      struck: !second,
      firm: !second && event.weight >= 2,
    };
    return count >= least && (voices[of] ?? true) && where.every((place) => places[place]);
  }

  function together(high, top, low, bottom, pair) {
    for (const rule of look(tables.together, interval(bottom, top))) {
      if (isAsked(rule, pair)) add(rule, high, low);
    }
  }

  /** What all that sounds makes over the lowest note, when every voice is there. */
  function stacked(tones, second) {
    if (tones.length !== event.upper.length + 1) return;
    const [bottom] = tones.map(([, pitch]) => pitch).sort((a, b) => midiOf(a) - midiOf(b));
    const bits = (over, size) => tones.reduce((all, [, pitch]) => all | (1 << (((over(pitch) % size) + size) % size)), 0);
    const numbers = bits((pitch) => pitch[0] - bottom[0], 7);
    const sizes = bits((pitch) => midiOf(pitch) - midiOf(bottom), 12);
    for (const rule of [...(tables.stack.numbers[numbers] ?? []), ...(tables.stack.sizes[sizes] ?? [])]) {
      if (isAsked(rule, { count: tones.length, second })) add(rule, ...tones.map(([voice]) => voice));
    }
  }

  /** What two notes meet in this signature and tuning. */
  function sounding(high, top, low, bottom, pair) {
    const [under, over] = midiOf(bottom) <= midiOf(top) ? [bottom, top] : [top, bottom];
    for (const rule of exercise.pairs[`${classOf(under)},${classOf(over)}`] ?? []) {
      if (isAsked(rule, pair)) add(rule, high, low);
    }
  }

  function stretch(tones) {
    const { widest, digits } = tables.hands;
    const steps = tones.map(([, pitch]) => pitch[0]).sort((a, b) => b - a);
    if (steps.length < 2) return 0;
    const gaps = steps.slice(1).map((step, k) => Math.min(widest, steps[k] - step));
    return Number(digits[steps.length - 2]?.[gaps.reduce((at, gap) => at * (widest + 1) + gap, 0)] ?? 0);
  }

  /** A stretch that goes on is told once, and again when it becomes worse. */
  function hands(tones, before) {
    const [wide, was] = [tones, before].map((each) => tables.hands.rules[stretch(each)]);
    const grave = (rule) => ["error", "warning", "note"].indexOf(tables.rules[rule].severity[1]);
    for (const rule of wide) {
      if (was.every((other) => grave(other) > grave(rule))) add(rule, ...tones.map(([voice]) => voice));
    }
  }

  function motion(before, high, low, top0, top1, bottom0, bottom1, pair) {
    const rise = midiOf(top1) - midiOf(top0);
    const lower = midiOf(bottom1) - midiOf(bottom0);
    if (samePitch(top0, top1) && samePitch(bottom0, bottom1)) return;
    const way = Math.sign(rise * lower);
    const kind = (pair) => tables.perfect[pair] ?? 0;
    const leap = Math.abs(top1[0] - top0[0]) > 1 ? 1 : 0;
    const key = [kind(interval(bottom0, top0)), kind(interval(bottom1, top1)), way === 1 ? 1 : way === -1 ? 2 : 0, leap];
    const lowest = before[before.length - 1][0];
    const here = { ...pair, outer: pair.outer && high === before[0][0] && low === lowest };
    const own = [interval(bottom0, bottom1), interval(top0, top1)].some((move) => tables.chromatic.includes(move));
    const across = tables.across[own ? 1 : 0];
    const crossed = [...look(across, interval(bottom0, top1)), ...look(across, interval(bottom1, top0))];
    for (const rule of new Set([...(tables.motion[key.join()] ?? []), ...crossed])) {
      if (!isAsked(rule, here)) continue;
      found.push({ rule, voices: [high, low], owed: false, lowest: low === event.voice && low === lowest });
    }
  }

  function melody(voice, pitch, came, second) {
    if (samePitch(pitch, came)) return;
    for (const rule of look(tables.melody, interval(came, pitch))) add(rule, voice);
    const first = noteBefore(voice, came, second);
    if (!first) return;
    const steps = `${came[0] - first[0]},${pitch[0] - came[0]}`;
    const whole = `${steps},${midiOf(pitch) - midiOf(first)}`; // steps, and the size of both together
    for (const rule of look(tables.turns, whole)) add(rule, voice);
  }

  /** The last note of a voice that was another than `came`. */
  function noteBefore(voice, came, second) {
    let k = second ? n : n - 1;
    let tone = toneAt(exercise, work, k, voice);
    for (;;) {
      if (!tone || !samePitch(tone, came)) return tone;
      if (k < 1 || !exercise.events[k].joined) return null;
      k--;
      const late = lateToneAt(exercise, work, k, voice);
      if (!samePitch(late, came)) return late;
      tone = toneAt(exercise, work, k, voice);
    }
  }

  /** A second note that clashes must pass, by the steps that lead to it and from it; or what it clashes with is held
   * and goes on as a suspension does. */
  function clashes(tones) {
    const [first, late, told] = [new Map(now), new Map(tones), new Set()];
    tones.forEach(([high], i) => {
      for (const [low] of tones.slice(i + 1)) {
        const struck = [high, low].filter((voice) => !samePitch(first.get(voice), late.get(voice)));
        const guilty = struck.includes(high) || !struck.length ? high : low;
        // As in the check, a note that clashes with two others at once is told once.
        if (!struck.length || told.has(guilty)) continue;
        for (const rule of clashRules(tables, exercise, work, n, high, low, lateToneAt) ?? []) {
          told.add(guilty);
          add(rule, high, low);
        }
      }
    });
  }

  const told = new Set();
  return found.filter(({ rule, voices }) => {
    const key = [rule, ...voices].join();
    const known = told.has(key) || event.allowed.includes(rule);
    told.add(key);
    return !known;
  });
}

/** Verdicts with their severity for so many voices. */
function judge(tables, exercise, work, n) {
  const count = Math.min(6, Math.max(1, tonesAt(exercise, work, n).length));
  return met(tables, exercise, work, n).map((each) => {
    const { severity, lowest } = tables.rules[each.rule];
    return { ...each, severity: ((each.lowest && lowest) || severity)[count - 1] };
  });
}

/** Whether every voice above the line has its note. */
function isWhole(exercise, work, n) {
  return exercise.events[n].upper.every((voice) => work[voice][n]);
}

/** How a sonority stands: "error", "open" while notes are missing, "warning" or "good". */
function standing(tables, exercise, work, n) {
  if (!exercise.events[n].upper.length) return "open";
  const met = judge(tables, exercise, work, n);
  if (met.some((each) => each.severity === "error")) return "error";
  if (!isWhole(exercise, work, n)) return "open";
  return met.some((each) => each.severity === "warning") ? "warning" : "good";
}

/** Notes a voice may take at a sonority without an error, as things stand. */
function legalTones(tables, exercise, work, n, voice) {
  const [low, high] = exercise.compass[voice];
  const found = [];
  for (let step = low; step <= high; step++) {
    for (const alter of [-1, 0, 1]) {
      const pitch = [step, alter];
      if (!(pitch.join() in exercise.hertz)) continue;
      const row = [...work[voice]];
      row[n] = pitch;
      const tried = { ...work, [voice]: row };
      const met = judge(tables, exercise, tried, n);
      const own = met.filter((each) => each.severity === "error" && (each.voices.includes(voice) || !each.voices.length));
      if (!own.length) found.push({ pitch, price: met.filter((each) => each.severity === "warning").length });
    }
  }
  return found;
}
