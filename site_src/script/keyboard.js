// The organ's keys under the music: what sounds, with the letter of its voice, and keys to touch.

const LOWEST_KEY = 36; // C2, as a MIDI number
const WHITE = { width: 30, height: 92 };
const BLACK = { width: 20, height: 56 };
const IS_BLACK = [1, 3, 6, 8, 10];

/** Where the keys stand, from the lowest: left edge, and whether it is a black one. */
function keyPlaces(count) {
  let edge = 0;
  return Array.from({ length: count }, (_, n) => {
    const black = IS_BLACK.includes((LOWEST_KEY + n) % 12);
    const left = black ? edge - BLACK.width / 2 : edge;
    if (!black) edge += WHITE.width;
    return { left, black };
  });
}

function drawKey({ left, black }) {
  const { width, height } = black ? BLACK : WHITE;
  const shape = svgEl("rect", { x: left + 0.5, y: 0.5, width: width - 1, height: height - 1, rx: 2 });
  const letter = svgEl("text", { x: left + width / 2, y: height - 10, "text-anchor": "middle" });
  const group = svgEl("g", { class: black ? "verset-key-black" : "verset-key-white" });
  group.append(shape, letter);
  return { group, letter };
}

/** A keyboard of keys tuned to these hertz, from the lowest up by semitones. */
function createKeyboard(player, hertz) {
  const { words, timeline, transport, marks } = player;
  const places = keyPlaces(hertz.length);
  const keys = places.map(drawKey);
  const width = WHITE.width * places.filter((place) => !place.black).length;
  const label = words.keyboardLabel;
  const svg = svgEl("svg", { viewBox: `0 0 ${width} ${WHITE.height}`, width, height: WHITE.height, role: "img", "aria-label": label });
  for (const black of [false, true]) keys.forEach((key, n) => places[n].black === black && svg.append(key.group));
  const element = el("div", { class: "verset-keyboard", hidden: true }, svg);
  const initials = player.voices.map((voice) => player.voiceName(voice).slice(0, 1).toUpperCase());
  const touched = new Map(); // by pointer: what sounds under it
  const known = new Map();
  let lit = new Map();

  /** The key that sounds nearest to a pitch. */
  function keyOf(pitch) {
    if (!known.has(pitch)) {
      const far = hertz.map((each) => Math.abs(Math.log(each / pitch)));
      known.set(pitch, far.indexOf(Math.min(...far)));
    }
    return known.get(pitch);
  }

  function light(next) {
    for (const n of new Set([...lit.keys(), ...next.keys()])) {
      keys[n].group.classList.toggle("verset-key-down", next.has(n));
      keys[n].letter.textContent = next.get(n) ?? "";
    }
    lit = next;
  }

  /** Mark what sounds at a position; bring it into sight where the keyboard is wider than the screen. */
  function show(position) {
    if (element.hidden) return;
    const next = new Map();
    for (const { start, end, hertz: pitch, voice } of timeline.versions[transport.settings.version]?.notes ?? []) {
      if (start > position + EARLY || end <= position + EARLY || player.silent.has(player.voices[voice])) continue;
      const n = keyOf(pitch);
      next.set(n, (next.get(n) ?? "") + initials[voice]);
    }
    for (const { n } of touched.values()) next.set(n, next.get(n) ?? "");
    light(next);
    if (transport.going && next.size && svg.clientWidth > element.clientWidth && !touched.size) {
      const at = [...next.keys()].map((n) => places[n].left);
      const middle = (Math.min(...at) + Math.max(...at) + WHITE.width) / 2;
      if (Math.abs(element.scrollLeft + element.clientWidth / 2 - middle) > element.clientWidth / 3) element.scrollLeft = middle - element.clientWidth / 2;
    }
  }

  function down(event, n) {
    event.preventDefault(); // the focus stays where it is, so that a touch can put a note in
    const { organ } = player;
    organ.context.resume().catch(() => player.say("noSound"));
    const now = organ.context.currentTime;
    touched.set(event.pointerId, { n, handle: organ.note(now + 0.005, now + 60, hertz[n]) });
    player.own?.take(LOWEST_KEY + n);
    marks.show();
  }

  function up(event) {
    const found = touched.get(event.pointerId);
    if (!found) return;
    touched.delete(event.pointerId);
    found.handle.end(player.organ.context.currentTime);
    marks.show();
  }

  keys.forEach(({ group }, n) => group.addEventListener("pointerdown", (event) => down(event, n)));
  for (const end of ["pointerup", "pointercancel"]) addEventListener(end, up);
  marks.onFrame(show);
  return {
    element,
    setShown(on) {
      element.hidden = !on;
      if (on) marks.show();
    },
    remove: () => ["pointerup", "pointercancel"].forEach((end) => removeEventListener(end, up)),
  };
}
