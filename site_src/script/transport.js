// Going and stopping. The clock of the sound is the only clock: notes are planned on it a little ahead, and
// what the page marks is read from it, so that eye and ear cannot drift apart.

const AHEAD = 0.3; // seconds planned ahead while the page is seen
const AHEAD_HIDDEN = 2.5; // timers of hidden pages run about once a second
const LEAD = 0.08; // from the touch to the first sound

/**
 * A transport over a timeline. `organ()` gives the sounding side (made at the first go).
 * `span` is the stretch of the verset on this page, in seconds.
 */
function createTransport(timeline, organ, span) {
  const now = { version: Object.keys(timeline.versions)[0], rate: 1, repeat: null, countIn: false, click: false };
  let going = false;
  let resting = span.start; // position while stopped
  let course = []; // stretches planned: from `at` on the clock, position runs from `from` to `to`
  let planned = []; // handles of notes and knocks
  let cursor = 0; // next note to plan
  let knocked = 0; // next beat to plan
  let counted = 0; // when, on the clock, the count before the music is over; 0 without one
  let timer = 0;
  const listeners = [];
  const tell = () => listeners.forEach((listener) => listener());

  const low = () => (now.repeat ? Math.max(timeline.barStart(now.repeat[0]), span.start) : span.start);
  const high = () => (now.repeat ? Math.min(timeline.barEnd(now.repeat[1]), span.end) : span.end);
  const clockOf = (stretch, position) => stretch.at + (position - stretch.from) / now.rate;
  const closing = (stretch) => clockOf(stretch, stretch.to);

  /** Position at a time of the clock. */
  function positionAt(time) {
    if (!course.length) return resting;
    let stretch = course[0];
    for (const each of course) if (each.at <= time) stretch = each;
    return clamp(stretch.from + (time - stretch.at) * now.rate, stretch.from, stretch.to);
  }

  function plan(note, stretch, from) {
    const until = Math.min(note.end, stretch.to);
    if (until - from < 0.03) return;
    const handle = organ().note(clockOf(stretch, from), clockOf(stretch, until), note.hertz, note.voice);
    planned.push(Object.assign(handle, { note, stretch }));
  }

  /** Begin a stretch: notes that already sound at its start are taken up there, unless they are held. */
  function open(at, from, to, held = []) {
    const stretch = { at, from, to };
    course.push(stretch);
    const { notes } = timeline.versions[now.version];
    cursor = notes.findIndex((note) => note.start >= from - EARLY);
    if (cursor < 0) cursor = notes.length;
    for (const note of notes.slice(0, cursor)) {
      if (note.end > from && !held.includes(note)) plan(note, stretch, from);
    }
    knocked = timeline.beats.findIndex((beat) => beat >= from - EARLY);
    if (knocked < 0) knocked = timeline.beats.length;
    return stretch;
  }

  /** Plan everything that begins before the horizon. */
  function look() {
    const { context } = organ();
    const time = context.currentTime;
    const horizon = time + (document.hidden ? AHEAD_HIDDEN : AHEAD);
    planned = planned.filter((handle) => handle.over > time);
    for (;;) {
      const stretch = course[course.length - 1];
      const { notes } = timeline.versions[now.version];
      while (cursor < notes.length && notes[cursor].start < stretch.to - EARLY) {
        if (clockOf(stretch, notes[cursor].start) > horizon) break;
        plan(notes[cursor], stretch, notes[cursor].start);
        cursor++;
      }
      while (knocked < timeline.beats.length && timeline.beats[knocked] < stretch.to - EARLY) {
        const beat = timeline.beats[knocked];
        if (clockOf(stretch, beat) > horizon) break;
        if (now.click) planned.push(organ().knock(clockOf(stretch, beat), timeline.isBarStart(beat)));
        knocked++;
      }
      if (!now.repeat || closing(stretch) > horizon) break;
      open(closing(stretch), low(), high());
    }
    while (course.length > 1 && course[1].at < time - 1) course.shift();
    if (!now.repeat && time > closing(course[course.length - 1]) + 0.4) finish();
  }

  /** Plan anew from now on, at a position; sounding notes of the same version are held where they still fit. */
  function replan(position, holding = false) {
    const { context } = organ();
    const time = context.currentTime;
    const at = Math.max(time + 0.005, course.length && course[0].at > time ? course[0].at : 0);
    const { notes } = timeline.versions[now.version];
    const held = [];
    const to = position < high() - EARLY ? high() : span.end;
    for (const handle of planned) {
      if (handle.when > time) handle.kill();
      else if (holding && handle.note && handle.until > time && notes.includes(handle.note)) {
        const until = Math.min(handle.note.end, to);
        if (until > position) {
          held.push(handle.note);
          handle.end(at + (until - position) / now.rate);
        }
      } else handle.end(time, HUSH);
    }
    planned = planned.filter((handle) => handle.over > time);
    course = [];
    open(at, position, to, held);
    look();
  }

  function finish() {
    resting = low();
    halt();
  }

  function halt() {
    going = false;
    clearInterval(timer);
    const time = organ().context.currentTime;
    for (const handle of planned) {
      if (handle.when > time) handle.kill();
      else handle.end(time, HUSH);
    }
    planned = [];
    course = [];
    tell();
  }

  const transport = {
    get going() {
      return going;
    },
    /** Whether a bar is being counted in, at the ear. */
    get counting() {
      return going && counted > 0 && organ().heard() < counted;
    },
    settings: now,
    span,
    listen: (listener) => listeners.push(listener),
    /** Position at the ear now. */
    position: (lead = 0) => (going ? positionAt(organ().heard() + lead) : resting),
    async go() {
      if (going) return;
      const { context } = organ();
      going = true;
      await context.resume();
      if (resting < low() - EARLY || resting >= high() - 0.02) resting = low();
      let at = context.currentTime + LEAD;
      counted = 0;
      if (now.countIn) {
        const { count, length } = timeline.counting(resting);
        for (let n = 0; n < count; n++) planned.push(organ().knock(at + (n * length) / now.rate, n === 0));
        at += (count * length) / now.rate;
        counted = at;
      }
      course = [];
      open(at, resting, high());
      look();
      timer = setInterval(look, 40);
      tell();
    },
    stop() {
      if (!going) return;
      resting = positionAt(organ().heard());
      halt();
    },
    seek(position) {
      const target = clamp(position, span.start, Math.max(span.start, span.end - 0.01));
      const outside = now.repeat && (target < low() - EARLY || target >= high() - EARLY);
      if (outside) now.repeat = null;
      if (going) replan(target);
      else resting = target;
      tell();
    },
    setRate(rate) {
      const position = going ? positionAt(organ().context.currentTime) : 0;
      now.rate = clamp(rate, 0.3, 1.5);
      if (going) replan(position, true);
      tell();
    },
    setVersion(version) {
      if (!(version in timeline.versions) || version === now.version) return;
      const position = going ? positionAt(organ().context.currentTime) : 0;
      now.version = version;
      if (going) replan(position);
      tell();
    },
    /** The notes of the version that sounds have changed. */
    renew() {
      if (going) replan(positionAt(organ().context.currentTime));
    },
    /** Repeat from one bar to another; null for no repeat. */
    setRepeat(bars) {
      const position = going ? positionAt(organ().context.currentTime) : resting;
      now.repeat = bars && [Math.min(...bars), Math.max(...bars)];
      const inside = position >= low() - EARLY && position < high() - EARLY;
      if (going) replan(inside ? position : low(), inside);
      else if (!inside) resting = low();
      tell();
    },
    setBeat(countIn, click) {
      Object.assign(now, { countIn, click });
      tell();
    },
  };
  document.addEventListener("visibilitychange", () => going && look());
  return transport;
}
