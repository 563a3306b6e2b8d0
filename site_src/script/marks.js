// What the page shows of the sound: sounding notes, the bar we are in, bars to repeat, silent voices.

const calm = matchMedia("(prefers-reduced-motion: reduce)");
const FRAME = 0.008; // a mark set now is seen about half a frame later

function createMarks(music, timeline, transport) {
  let lit = new Set();
  let here = -1;
  let counting = false;
  let follow = false;
  let frame = 0;
  const onBar = [];
  const onFrame = [];

  function lightNotes(ids) {
    const next = new Set(ids);
    for (const id of lit) {
      if (!next.has(id)) music.notes.get(id)?.forEach((note) => note.classList.remove("verset-now"));
    }
    for (const id of next) {
      if (!lit.has(id)) music.notes.get(id)?.forEach((note) => note.classList.add("verset-now"));
    }
    lit = next;
  }

  /** Tells of a new bar, and of the end of the count before the first one. */
  function frameBar(number) {
    if (number === here && transport.counting === counting) return;
    here = number;
    counting = transport.counting;
    for (const bar of music.bars) bar.measure.classList.toggle("verset-here", bar.number === number);
    if (follow && transport.going) scrollTo(number);
    onBar.forEach((listener) => listener(number));
  }

  function scrollTo(number) {
    const bar = music.bars.find((each) => each.number === number && music.seen(each));
    if (!bar || bar.system.svg.closest("dialog")) return;
    const box = bar.system.svg.getBoundingClientRect();
    if (box.top < innerHeight * 0.15 || box.bottom > innerHeight * 0.75) {
      bar.system.svg.scrollIntoView({ block: "center", behavior: calm.matches ? "auto" : "smooth" });
    }
  }

  function show() {
    const position = transport.position(FRAME);
    lightNotes(music.shown(transport.settings.version).flatMap((version) => timeline.sounding(version, position)));
    frameBar(timeline.bar(position));
    onFrame.forEach((listener) => listener(position));
  }

  function run() {
    show();
    frame = transport.going ? requestAnimationFrame(run) : 0;
  }

  transport.listen(() => {
    if (transport.going && !frame) run();
    else if (!transport.going) show();
  });

  return {
    show,
    onBar: (listener) => onBar.push(listener),
    /** Told of the position at the ear, at each frame while the music goes. */
    onFrame: (listener) => onFrame.push(listener),
    get bar() {
      return here;
    },
    /** Bring the music of this moment into sight. */
    toMusic: () => scrollTo(here),
    setFollow(on) {
      follow = on;
      if (on && transport.going) scrollTo(here);
    },
    repeat(bars) {
      for (const bar of music.bars) {
        const inside = bars && bar.number >= bars[0] && bar.number <= bars[1];
        bar.measure.classList.toggle("verset-repeated", Boolean(inside));
        bar.measure.classList.toggle("verset-repeat-first", Boolean(inside) && bar.number === bars[0]);
        bar.measure.classList.toggle("verset-repeat-last", Boolean(inside) && bar.number === bars[1]);
      }
    },
    silent(voices) {
      for (const [note, voice] of music.voiceOf) note.classList.toggle("verset-silent", voices.has(voice));
    },
  };
}
