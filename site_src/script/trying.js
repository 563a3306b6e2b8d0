// The reader's own setting: put notes in over the given line, be judged at once, hear it, keep it.

const HIGHEST = 40; // staff steps that may be put in: C2 to A5
const LOWEST = 14;

function createTry(root, player, tables, told) {
  const exercise = JSON.parse(root.querySelector("script").textContent);
  const words = player.words.try;
  const name = (voice) => player.voiceName(voice);
  let work = readWork(exercise, memory.get(`work.${exercise.key}`, null)) ?? emptyWork(exercise);
  let voice = exercise.voices[0];
  let n = exercise.events.findIndex((event) => event.upper.includes(voice));
  let second = false; // whether we are at the second note of a divided sonority
  let compare = false;
  let hints = [];
  let kept = JSON.stringify(work); // as it is now; before and after it what was undone and may be done again
  const [past, future] = [[], []];
  const undo = button(words.undo, () => travel(past, future), { disabled: !past.length });
  const redo = button(words.redo, () => travel(future, past), { disabled: !future.length });

  const judged = el("div", { class: "verset-judged", "aria-live": "polite" });
  const paper = createPaper(exercise, player, judged, {
    "aria-label": words.sheet,
    "aria-describedby": "verset-try-keys",
    keydown: press,
    pointerup: touch,
  });
  const done = el("p", { class: "verset-hint" });
  const pickers = exercise.voices.map((each) => {
    const pick = button(name(each), () => choose(each));
    return [each, pick];
  });
  const file = el("input", { type: "file", accept: ".json,application/json", class: "verset-said", tabindex: -1, "aria-label": words.open, change: open });
  const comparing = button(words.compare, () => {
    compare = !compare;
    comparing.setAttribute("aria-pressed", String(compare));
    draw();
  }, { "aria-pressed": "false" });
  const row = (...children) => el("div", { class: "verset-row" }, ...children);
  const more = (title, ...children) => el("details", { class: "verset-more" }, el("summary", {}, title), ...children);
  const tools = el(
    "div",
    { class: "verset-tools", role: "group", "aria-label": words.tools },
    button(words.graceBack, () => go(-1)),
    button(words.graceOn, () => go(1)),
    button(words.higher, () => shift(1)),
    button(words.lower, () => shift(-1)),
    button(words.sharpen, () => alter(1)),
    button(words.flatten, () => alter(-1)),
    button(words.divide, divideHere),
    button(words.erase, () => put(null)),
    undo,
    redo,
    button(words.hint, hint),
  );
  root.append(
    el("h2", { id: "verset-try" }, words.title),
    el("p", { class: "verset-lead" }, words.lead),
    row(el("span", { class: "verset-choice", role: "group", "aria-label": words.voices }, ...pickers.map(([, pick]) => pick))),
    el("div", {}, paper.element, tools), // so that the tools stay only while the paper is in sight
    row(
      button(words.hear, hear, { class: "verset-button verset-go" }),
      button(words.hearOurs, hearOurs),
      comparing,
    ),
    done,
    more(words.files, row(
      button(words.save, () => offer(`${exercise.key.replaceAll("/", "-")}.json`, "application/json", JSON.stringify({ key: exercise.key, work }))),
      button(words.open, () => file.click()),
      button(words.musicxml, () =>
        offer(`${exercise.key.replaceAll("/", "-")}.musicxml`, "application/vnd.recordare.musicxml+xml", workToMusicXML(exercise, work, name))),
      button(words.print, () => print()),
      button(words.clear, clear),
      file,
    )),
    more(player.words.keys, el("p", { class: "verset-hint", id: "verset-try-keys" }, words.keys)),
  );
  root.hidden = false;

  // Notes

  function entered() {
    return exercise.events[n].upper.includes(voice);
  }

  const tone = () => (second ? secondTone(work, n, voice) : work[voice][n]);

  function put(pitch) {
    if (!entered()) return;
    if (second) divide(work, voice, n, pitch);
    else work[voice][n] = pitch;
    if (!pitch) {
      divide(work, voice, n, null);
      second = false;
    }
    changed();
    if (pitch) sound();
  }

  /** Go one change back, or forward again. */
  function travel(from, to) {
    if (!from.length) return;
    to.push(kept);
    kept = from.pop();
    work = readWork(exercise, { key: exercise.key, work: JSON.parse(kept) });
    second = false;
    changed();
  }

  /** Keep the work as it is now, and show it. */
  function changed() {
    hints = [];
    const now = JSON.stringify(work);
    if (now !== kept) {
      past.push(kept);
      future.length = 0;
      kept = now;
    }
    undo.disabled = !past.length;
    redo.disabled = !future.length;
    memory.set(`work.${exercise.key}`, { key: exercise.key, work });
    renew();
    draw();
  }

  /** Where a voice would most likely go on: the note it has, had, or might have. */
  function near() {
    const [low, high] = exercise.compass[voice];
    if (second) return tone() ?? work[voice][n];
    return work[voice][n] ?? work[voice][n - 1] ?? work[voice][n + 1] ?? [Math.round((low + high) / 2), 0];
  }

  function natural(step) {
    return [step, exercise.signature[step % 7]];
  }

  function shift(by) {
    put(tone() ? natural(clamp(tone()[0] + by, LOWEST, HIGHEST)) : natural(near()[0]));
  }

  function alter(by) {
    const pitch = tone();
    if (pitch) put([pitch[0], clamp(pitch[1] + by, -1, 1)]);
  }

  function letter(step) {
    put(natural(nearestStep(step, near()[0])));
  }

  /** Put a second note after the first: on the way to the next one. */
  function divideHere() {
    const here = entered() && work[voice][n];
    if (!here || !exercise.events[n].half) return;
    const next = exercise.events[n + 1]?.upper.includes(voice) ? work[voice][n + 1] : null;
    const way = Math.sign((next?.[0] ?? here[0] + 1) - here[0]) || 1;
    second = true;
    put(secondTone(work, n, voice) ?? natural(here[0] + way));
  }

  function go(by) {
    const within = secondTone(work, n, voice);
    if (by > 0 && within && !second) {
      second = true;
      hints = [];
      draw();
      return;
    }
    if (by < 0 && second) {
      second = false;
      hints = [];
      draw();
      return;
    }
    second = false;
    let next = n + by;
    while (exercise.events[next] && !exercise.events[next].upper.includes(voice)) next += by;
    if (exercise.events[next]) n = next;
    hints = [];
    draw();
  }

  function choose(each) {
    voice = each;
    second = false;
    if (!entered()) n = exercise.events.findIndex((event) => event.upper.includes(voice));
    hints = [];
    draw();
  }

  /** The note that fits best as things stand: ours, where nothing forbids it, else the one with least against it
   * and the shortest way. */
  function bestHint() {
    const ours = exercise.ours[voice][n];
    const from = n > 0 ? lateToneAt(exercise, work, n - 1, voice) : null;
    const cost = ({ pitch, price }) => (samePitch(pitch, ours) ? -100 : price * 10 + (from ? Math.abs(pitch[0] - from[0]) : 0));
    return [...hints].sort((a, b) => cost(a) - cost(b))[0]?.pitch ?? ours;
  }

  function hint() {
    if (!entered()) return;
    // A first hint shows what may stand here, the next puts the best of it in.
    if (hints.length) put(bestHint());
    else {
      second = false;
      hints = legalTones(tables, exercise, work, n, voice);
      draw();
      const notes = [...new Set(hints.map((each) => noteName(each.pitch)))].join(", ");
      judged.prepend(el("p", {}, hints.length ? say(words.hinted, { notes }) : words.noneFits));
    }
  }

  function clear() {
    if (!confirm(words.clearAsk)) return;
    work = emptyWork(exercise);
    second = false;
    changed();
  }

  // Sound

  function sound() {
    const { organ } = player;
    const at = organ.context.currentTime + 0.02;
    organ.context.resume();
    for (const [each, pitch] of tonesAt(exercise, work, n, second ? lateToneAt : toneAt)) {
      const hertz = exercise.hertz[pitch.join()];
      if (hertz) organ.note(at, at + 0.9, hertz, player.voices.indexOf(each));
    }
  }

  /** Give the player the work as a version of its own. */
  function renew() {
    player.timeline.versions.mine = readVersion(workToPlay(exercise, work, player.voices));
    if (player.transport.settings.version === "mine") player.transport.renew();
  }

  function hear() {
    renew();
    player.setVersion("mine");
    if (!player.transport.going) player.toggle();
  }

  function hearOurs() {
    player.setVersion("plain");
    if (!player.transport.going) player.toggle();
  }

  // Files

  function offer(title, type, text) {
    const link = el("a", { href: URL.createObjectURL(new Blob([text], { type })), download: title });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }

  async function open() {
    let read = null;
    try {
      read = readWork(exercise, JSON.parse(await file.files[0].text()));
    } catch {
      read = null; // not a file of ours; said below
    }
    file.value = "";
    if (!read) {
      judged.replaceChildren(el("p", {}, words.notOurs));
      return;
    }
    work = read;
    second = false;
    changed();
  }

  // Input

  function touch(event) {
    const place = paper.placeOf(event);
    if (!place) return;
    n = place.at;
    second = place.late && Boolean(secondTone(work, n, voice));
    if (entered() && place.step >= LOWEST && place.step <= HIGHEST) put(natural(place.step));
    else draw();
  }

  const KEYS = {
    ArrowLeft: () => go(-1),
    ArrowRight: () => go(1),
    ArrowUp: () => shift(1),
    ArrowDown: () => shift(-1),
    PageUp: () => choose(exercise.voices[Math.max(0, exercise.voices.indexOf(voice) - 1)]),
    PageDown: () => choose(exercise.voices[Math.min(exercise.voices.length - 1, exercise.voices.indexOf(voice) + 1)]),
    "+": () => alter(1),
    "#": () => alter(1),
    "/": divideHere,
    "-": () => alter(-1),
    Delete: () => put(null),
    Backspace: () => put(null),
    "?": hint,
    Enter: sound,
    " ": hear,
  };

  function press(event) {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
      event.preventDefault();
      if (event.shiftKey) travel(future, past);
      else travel(past, future);
      return;
    }
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const at = "cdefgab".indexOf(event.key.toLowerCase());
    const act = KEYS[event.key] ?? (at >= 0 && event.key.length === 1 ? () => letter(at) : null);
    if (!act) return;
    event.preventDefault();
    event.stopPropagation();
    act();
  }

  function keyboard(message) {
    const [status, key, strength] = message.data;
    if ((status & 0xf0) === 0x90 && strength) take(key);
  }

  /** Put in the note of a key (MIDI number), while the reader is at work here. */
  function take(key) {
    if (!paper.element.contains(document.activeElement)) return;
    const spelled = Object.keys(exercise.hertz).map((text) => text.split(",").map(Number)).filter((pitch) => midiOf(pitch) === key);
    const [low, high] = exercise.compass[voice];
    const pitch = spelled.sort((a, b) => Math.abs(a[1]) - Math.abs(b[1])).find(([step]) => step >= low && step <= high);
    if (!pitch) return;
    put(pitch);
    go(1);
  }
  if (navigator.requestMIDIAccess) {
    // Asked for only once the reader is at work here; refused or absent, nothing changes.
    paper.element.addEventListener("focus", () => {
      navigator.requestMIDIAccess().then((access) => access.inputs.forEach((input) => (input.onmidimessage = keyboard)), () => {});
    }, { once: true });
  }

  // Drawing

  function noteName(pitch) {
    const key = "CDEFGAB"[pitch[0] % 7] + { 1: "#", "-1": "b", 0: "" }[pitch[1]];
    return player.words.short[key];
  }

  /** The voices of a verdict with the way their notes take; of one that a note before has brought about, that note
   * and where it stands. */
  function party(voices, owed) {
    const [from, to] = owed ? [n - 1, n - 1] : [exercise.events[n].joined ? Math.max(0, n - 1) : n, n];
    const said = voices.map((each) => {
      const tones = [toneAt(exercise, work, to, each), lateToneAt(exercise, work, to, each)];
      if (from < to) tones.unshift(lateToneAt(exercise, work, from, each));
      const way = tones.filter((tone, k) => tone && !samePitch(tone, tones[k - 1])).map(noteName);
      return `${name(each)} ${way.join("–")}`.trim();
    });
    return [...said, ...(owed ? [exercise.events[to].where] : [])].join(", ");
  }

  function draw() {
    const states = exercise.events.map((_, at) => standing(tables, exercise, work, at));
    paper.draw({ work, n, voice, second, compare, hints, states });
    for (const [each, pick] of pickers) pick.setAttribute("aria-pressed", String(each === voice));
    const event = exercise.events[n];
    const pitch = entered() ? tone() : null;
    const over = noteName(event.bass) + (event.figure.length ? ` (${event.figure.join(" ")})` : "");
    const place = say(words.at, { where: event.where, voice: name(voice), note: pitch ? noteName(pitch) : words.nothing, over });
    const met = judge(tables, exercise, work, n);
    const lines = met.map(({ rule, voices, severity, owed }) => {
      const [title, sentence, advice] = told[rule];
      return el(
        "li",
        { class: `is-${severity}` },
        el("strong", {}, `${MARKS[severity] ?? ""} ${words[severity]}: ${title}`),
        ` (${party(voices, owed)}). ${sentence} ${advice}`,
      );
    });
    const missing = event.upper.filter((each) => !work[each][n]);
    const fine = !lines.length && !missing.length ? [el("p", {}, `${MARKS.good} ${words.fine}`)] : [];
    const lacking = missing.length ? [el("p", {}, say(words.missing, { voices: missing.map(name).join(", ") }))] : [];
    judged.replaceChildren(el("p", {}, place), ...fine, ...lacking, ...(lines.length ? [el("ul", {}, ...lines)] : []));
    const asked = states.filter((_, at) => exercise.events[at].upper.length);
    const right = asked.filter((each) => each === "good" || each === "warning").length;
    done.textContent = say(right === asked.length ? words.finished : words.progress, { right, all: asked.length });
  }

  renew();
  draw();
  player.marks.onBar((bar) => player.transport.going && paper.see(exercise.events.findIndex((event) => event.bar === bar)));
  let wide = paper.element.clientWidth;
  new ResizeObserver(() => {
    if (paper.element.clientWidth === wide) return;
    wide = paper.element.clientWidth;
    paper.draw();
  }).observe(root);
  return {
    exercise,
    pointOf: paper.pointOf,
    /** Show a work in place of the reader's, which is kept as one change. */
    show(other) {
      work = other;
      second = false;
      changed();
    },
    get work() {
      return work;
    },
    noteName,
    take,
    verdicts: (other, at) => verdicts(tables, exercise, other, at),
    judge: (at, other = work) => judge(tables, exercise, other, at),
    musicxml: () => workToMusicXML(exercise, work, name),
  };
}
