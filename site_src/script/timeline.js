// What sounds when. Positions are seconds of the verset at full speed; nothing here knows of sound or page.

/**
 * Index of the last entry at or before a position, by bisection; -1 before the first.
 * @param {number[]} times
 * @param {number} position
 */
function lastAt(times, position) {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] <= position) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

const EARLY = 1e-6; // a position that is only rounded below a moment belongs to it

/**
 * The notes of a version made ready for questions.
 * @param {PlayedNote[]} list
 * @returns {VersionNotes}
 */
function readVersion(list) {
  const notes = list.map(([start, end, hertz, voice, pieces]) => ({
    start,
    end,
    hertz,
    voice,
    pieces,
  }));
  notes.sort((a, b) => a.start - b.start || a.voice - b.voice);
  const spans = notes.flatMap((note) =>
    note.pieces.map(([id, start], n) => ({
      id,
      start,
      end: note.pieces[n + 1]?.[1] ?? note.end,
    })),
  );
  const moments = [...new Set(spans.flatMap((span) => [span.start, span.end]))].sort((a, b) => a - b);
  /** @type {string[][]} */
  const sounding = moments.map(() => []);
  for (const span of spans) {
    for (let n = lastAt(moments, span.start); moments[n] < span.end; n++) sounding[n].push(span.id);
  }
  return {
    notes,
    moments,
    sounding,
    starts: new Map(spans.map((span) => [span.id, span.start])),
  };
}

/** The play data of a page made ready for questions. */
class Timeline {
  /** @param {PlayData} data */
  constructor(data) {
    /** @type {Record<string, VersionNotes>} */
    this.versions = {};
    for (const [name, list] of Object.entries(data.versions)) this.versions[name] = readVersion(list);
    this.voices = data.voices;
    this.beats = data.beats;
    this.end = data.end;
    this.numbers = data.bars.map(([number]) => number);
    this.onsets = data.bars.map(([, start]) => start);
  }

  /** @param {number} position */
  barIndex(position) {
    return clamp(lastAt(this.onsets, position + EARLY), 0, this.onsets.length - 1);
  }

  /**
   * Number of the bar at a position.
   * @param {number} position
   */
  bar(position) {
    return this.numbers[this.barIndex(position)];
  }

  /** @param {number} number */
  barStart(number) {
    return this.onsets[this.numbers.indexOf(number)];
  }

  /** @param {number} number */
  barEnd(number) {
    return this.onsets[this.numbers.indexOf(number) + 1] ?? this.end;
  }

  /** @param {number} position */
  isBarStart(position) {
    return Math.abs(this.onsets[this.barIndex(position)] - position) < 1e-3;
  }

  /**
   * Ids of the notes that sound at a position.
   * @param {string} version
   * @param {number} position
   */
  sounding(version, position) {
    if (!this.versions[version]) return [];
    const { moments, sounding } = this.versions[version];
    return sounding[lastAt(moments, position + EARLY)] ?? [];
  }

  /**
   * Where a note begins, in whichever version has it.
   * @param {string | undefined} id
   */
  noteStart(id) {
    for (const version of Object.values(this.versions)) {
      const start = id === undefined ? undefined : version.starts.get(id);
      if (start !== undefined) return start;
    }
    return undefined;
  }

  /**
   * Beats of the bar at a position, for counting in: how many, and how long one is.
   * @param {number} position
   */
  counting(position) {
    const index = this.barIndex(position);
    const from = this.onsets[index];
    const to = this.onsets[index + 1] ?? this.end;
    const inside = this.beats.filter((beat) => beat >= from - EARLY && beat < to - EARLY);
    // The last bar may be longer than the others; count one bar's worth of beats.
    const usual = this.beats.filter((beat) => beat < (this.onsets[1] ?? this.end) - EARLY).length;
    const count = Math.max(1, Math.min(inside.length, usual));
    const length = inside.length > 1 ? inside[1] - inside[0] : (to - from) / count;
    return { count, length };
  }
}
