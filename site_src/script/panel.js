// The controls: plain words on plain buttons. They only ask the player and show what it says.

const SPEEDS = { low: 30, high: 150, step: 5 };

function check(label, checked, changed) {
  const box = el("input", { type: "checkbox", checked, change: () => changed(box.checked) });
  return { box, row: el("label", { class: "verset-check" }, box, el("span", {}, label)) };
}

function group(title, ...children) {
  return el("fieldset", { class: "verset-group" }, el("legend", {}, title), ...children);
}

function button(text, press, attributes = {}) {
  return el("button", { type: "button", class: "verset-button", click: press, ...attributes }, text);
}

/** A drawer that opens over the edge of the music: its button on the strip, and what is in it. */
function drawer(strip, title, key, ...content) {
  const inside = el("div", { class: "verset-drawer", id: `verset-drawer-${key}`, role: "group", "aria-label": title, hidden: true }, ...content);
  const opener = button(title, () => strip.turn(inside), { "aria-expanded": "false", "aria-controls": inside.id });
  return { opener, inside };
}

/** The strip that stays: all that is wanted while playing, and one touch away the rest. */
function makeStrip(player) {
  const { words } = player;
  const speed = el("span", { class: "verset-speed" });
  const asks = el("p", { class: "verset-asks", hidden: true });
  const drawers = [];
  const strip = {
    /** Open one drawer and close the others; an open one is closed. */
    turn(inside = null) {
      for (const each of drawers) {
        each.inside.hidden = each.inside !== inside || !each.inside.hidden;
        each.opener.setAttribute("aria-expanded", String(!each.inside.hidden));
      }
    },
  };
  const add = (...what) => drawers[drawers.push(drawer(strip, ...what)) - 1].opener;
  const voices = voicesGroup(player);
  strip.element = el(
    "div",
    { class: "verset-strip", role: "group", "aria-label": words.title },
    asks,
    player.keyboard.element,
    goButton(player),
    el(
      "span",
      { class: "verset-pace" },
      button(words.slower, () => player.pace(-SPEEDS.step)),
      speed,
      button(words.faster, () => player.pace(SPEEDS.step)),
    ),
    button(words.again, () => player.again(), { class: "verset-button verset-wide-only" }),
    voices && add(words.voices, "voices", voices),
    add(words.bars, "bars", repeatGroup(player, () => strip.turn())),
    versionList(player),
    add(words.rest, "more", speedGroup(player), levelGroup(player), beatGroup(player), readingGroup(player), keysGroup(player)),
    button(words.desk, () => player.desk.open(), { class: "verset-button verset-desk-open" }),
  );
  strip.element.append(...drawers.map((each) => each.inside));
  strip.element.addEventListener("keydown", (event) => {
    const open = drawers.find((each) => !each.inside.hidden);
    if (event.key !== "Escape" || !open) return;
    event.preventDefault();
    event.stopPropagation();
    strip.turn();
    open.opener.focus();
  });
  player.transport.listen(() => (speed.textContent = say(words.percent, { n: player.speed })));
  player.onChoosing((stage) => {
    asks.hidden = !stage;
    asks.textContent = stage === 1 ? words.repeatChooseFirst : words.repeatChooseLast;
  });
  return strip.element;
}

/** Go or stop, with the place below. */
function goButton(player) {
  const { words, transport, marks } = player;
  const act = el("span", {}, words.go);
  const place = el("small", {});
  const go = el("button", { type: "button", class: "verset-button verset-go", click: () => player.toggle() }, act, place);
  const showPlace = () => (place.textContent = transport.counting ? words.counting : say(words.place, { bar: marks.bar }));
  transport.listen(() => {
    act.textContent = transport.going ? words.stop : words.go;
    go.classList.toggle("is-going", transport.going);
    showPlace();
  });
  marks.onBar(showPlace);
  return go;
}

/** The versions as a list to open. */
function versionList(player) {
  const { words, versions, transport } = player;
  if (versions.length < 2) return null;
  const option = (version) => el("option", { value: version }, player.nameOf(version));
  const list = el(
    "select",
    { class: "verset-button verset-list", "aria-label": words.version, change: () => player.setVersion(list.value) },
    ...versions.map(option),
  );
  transport.listen(() => {
    const { version } = transport.settings;
    // What the reader has put in is no version of the page until it sounds.
    if (![...list.options].some((each) => each.value === version)) list.append(option(version));
    list.value = version;
  });
  return list;
}

function voicesGroup(player) {
  const { words } = player;
  if (player.sounding.length < 2) return null; // of a single voice there is nothing to choose
  const rows = player.sounding.map((voice) => {
    const name = player.voiceName(voice);
    const sounds = button(name, () => player.setVoice(voice, player.silent.has(voice)), {
      class: "verset-button verset-voice",
    });
    const alone = button(words.alone, () => player.singleOut(voice), {
      class: "verset-button verset-alone",
      "aria-label": say(words.aloneLabel, { voice: name }),
    });
    const show = () => {
      sounds.setAttribute("aria-pressed", String(!player.silent.has(voice)));
      alone.setAttribute("aria-pressed", String(player.isAlone(voice)));
    };
    player.onVoices(show);
    show();
    return el("div", { class: "verset-voice-row" }, sounds, alone);
  });
  return group(words.voices, el("div", { class: "verset-row" }, ...rows), el("p", { class: "verset-hint" }, words.voicesHint));
}

function speedGroup(player) {
  const { words } = player;
  const shown = el("output", { class: "verset-value" });
  const slider = el("input", {
    type: "range",
    min: SPEEDS.low,
    max: SPEEDS.high,
    step: SPEEDS.step,
    "aria-label": words.speed,
    input: () => player.setSpeed(Number(slider.value)),
  });
  player.transport.listen(() => {
    slider.value = player.speed;
    shown.textContent = say(words.percent, { n: player.speed });
    slider.setAttribute("aria-valuetext", shown.textContent);
  });
  return group(words.speed, el("div", { class: "verset-slide" }, slider, shown));
}

function repeatGroup(player, close) {
  const { words } = player;
  const [low, high] = player.barSpan;
  const field = (label) => {
    const input = el("input", { type: "number", min: low, max: high, inputmode: "numeric", change: read });
    return { input, row: el("label", { class: "verset-field" }, el("span", {}, label), input) };
  };
  function read() {
    const one = Number(first.input.value) || low;
    const two = Number(last.input.value) || one;
    player.setRepeat([clamp(one, low, high), clamp(two, low, high)]);
  }
  const first = field(words.repeatFirst);
  const last = field(words.repeatLast);
  const choose = button(words.repeatChoose, () => {
    close();
    player.chooseBars();
  });
  const off = button(words.repeatOff, () => player.setRepeat(null));
  player.transport.listen(() => {
    const { repeat } = player.transport.settings;
    first.input.value = repeat ? repeat[0] : "";
    last.input.value = repeat ? repeat[1] : "";
    off.disabled = !repeat;
  });
  player.onChoosing((stage) => choose.setAttribute("aria-pressed", String(stage > 0)));
  return group(
    words.repeat,
    el("div", { class: "verset-row" }, first.row, last.row, choose, off),
    el("p", { class: "verset-hint" }, words.repeatHint),
  );
}

function beatGroup(player) {
  const { words } = player;
  const kept = player.kept;
  const change = () => {
    player.transport.setBeat(countIn.box.checked, click.box.checked);
    player.keep({ countIn: countIn.box.checked, click: click.box.checked });
  };
  const countIn = check(words.countIn, kept.countIn, change);
  const click = check(words.click, kept.click, change);
  return group(words.beat, countIn.row, click.row);
}

function levelGroup(player) {
  const { words } = player;
  const shown = el("output", { class: "verset-value" });
  const caution = el("p", { class: "verset-hint", id: `verset-caution-${player.key}` }, words.levelCaution);
  const show = () => (shown.textContent = say(words.percent, { n: slider.value }));
  const slider = el("input", {
    type: "range",
    min: 0,
    max: 100,
    step: 5,
    value: player.level,
    "aria-label": words.level,
    "aria-describedby": caution.id,
    input: () => {
      player.setLevel(Number(slider.value));
      show();
    },
  });
  show();
  return group(words.level, el("div", { class: "verset-slide" }, slider, shown), caution);
}

function readingGroup(player) {
  const { words } = player;
  const option = (key, label) => check(label, player.kept[key], (on) => player.setReading(key, on)).row;
  return group(
    words.reading,
    option("follow", words.follow),
    option("keyboard", words.keyboard),
    player.hasFigures ? option("figures", words.figures) : null,
    player.hasNames ? option("noteNames", words.noteNames) : null,
    player.hasModern ? option("modernClefs", words.modernClefs) : null,
    player.versions.length > 1 ? option("allVersions", words.allVersions) : null,
  );
}

function keysGroup({ words }) {
  const keys = ["keyGo", "keyBars", "keyRepeat", "keyStart", "keySpeed", "keyVoices", "keyVersion", "keyDesk"];
  return el(
    "details",
    { class: "verset-more" },
    el("summary", {}, words.keys),
    el("p", { class: "verset-hint" }, words.keysHint),
    el("ul", {}, ...keys.map((key) => el("li", {}, words[key]))),
  );
}
