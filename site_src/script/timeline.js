// What sounds when. Positions are seconds of the verset at full speed; nothing here knows of sound or page.

/** Index of the last entry at or before a position, by bisection; -1 before the first. */
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

function readVersion(list) {
  const notes = list.map(([start, end, hertz, voice, pieces]) => ({ start, end, hertz, voice, pieces }));
  notes.sort((a, b) => a.start - b.start || a.voice - b.voice);
  const spans = [];
  for (const note of notes) {
    note.pieces.forEach(([id, start], n) => {
      const end = n + 1 < note.pieces.length ? note.pieces[n + 1][1] : note.end;
      spans.push({ id, start, end });
    });
  }
  const moments = [...new Set(spans.flatMap((span) => [span.start, span.end]))].sort((a, b) => a - b);
  const sounding = moments.map(() => []);
  for (const span of spans) {
    for (let n = lastAt(moments, span.start); moments[n] < span.end; n++) sounding[n].push(span.id);
  }
  return { notes, moments, sounding, starts: new Map(spans.map((span) => [span.id, span.start])) };
}

/** The play data of a page made ready for questions. */
function readTimeline(data) {
  const versions = {};
  for (const [name, list] of Object.entries(data.versions)) versions[name] = readVersion(list);
  const numbers = data.bars.map(([number]) => number);
  const onsets = data.bars.map(([, start]) => start);
  const barIndex = (position) => clamp(lastAt(onsets, position + EARLY), 0, onsets.length - 1);
  return {
    versions,
    voices: data.voices,
    beats: data.beats,
    end: data.end,
    numbers,
    bar: (position) => numbers[barIndex(position)],
    barStart: (number) => onsets[numbers.indexOf(number)],
    barEnd: (number) => onsets[numbers.indexOf(number) + 1] ?? data.end,
    isBarStart: (position) => Math.abs(onsets[barIndex(position)] - position) < 1e-3,
    /** Ids of the notes that sound at a position. */
    sounding(version, position) {
      if (!versions[version]) return [];
      const { moments, sounding } = versions[version];
      return sounding[lastAt(moments, position + EARLY)] ?? [];
    },
    /** Where a note begins, in whichever version has it. */
    noteStart(id) {
      for (const version of Object.values(versions)) {
        if (version.starts.has(id)) return version.starts.get(id);
      }
      return undefined;
    },
    /** Beats of the bar at a position, for counting in: how many, and how long one is. */
    counting(position) {
      const index = barIndex(position);
      const from = onsets[index];
      const to = onsets[index + 1] ?? data.end;
      const inside = data.beats.filter((beat) => beat >= from - EARLY && beat < to - EARLY);
      // The last bar may be longer than the others; count one bar's worth of beats.
      const usual = data.beats.filter((beat) => beat < (onsets[1] ?? data.end) - EARLY).length;
      const count = Math.max(1, Math.min(inside.length, usual));
      const length = inside.length > 1 ? inside[1] - inside[0] : (to - from) / count;
      return { count, length };
    },
  };
}
