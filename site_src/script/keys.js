// Keys work only while the music or the controls have the focus, so that they never take a key from the page,
// the browser or a screen reader; Space alone goes and stops from anywhere that does not want it for itself.

/**
 * Move the end of the repeated bars; the first time they begin at the bar we are in.
 * @param {Player} player
 * @param {number} step
 */
function extendRepeat(player, step) {
  const { bar } = player.marks;
  const [low, high] = player.barSpan;
  const { repeat } = player.transport.settings;
  const [first, last] = repeat ?? [bar, bar];
  const end = clamp(repeat ? last + step : last, low, high);
  player.setRepeat([Math.min(first, end), end]);
}

/**
 * What each key does.
 * @param {Player} player
 */
function keyActs(player) {
  const { transport, marks } = player;
  /** @type {Record<string, () => void>} */
  const acts = {
    " ": () => player.toggle(),
    ArrowLeft: () => player.toBar(marks.bar - 1),
    ArrowRight: () => player.toBar(marks.bar + 1),
    "shift ArrowLeft": () => extendRepeat(player, -1),
    "shift ArrowRight": () => extendRepeat(player, 1),
    Home: () => player.again(),
    "-": () => player.pace(-SPEEDS.step),
    "+": () => player.pace(SPEEDS.step),
    "=": () => player.pace(SPEEDS.step),
    r: () => player.setRepeat(transport.settings.repeat ? null : [marks.bar, marks.bar]),
    v: () => player.nextVersion(),
    d: () => player.desk.open(),
    c: () => player.classroom.open(),
  };
  player.sounding.forEach((voice, n) => {
    acts[String(n + 1)] = () => player.setVoice(voice, player.silent.has(voice));
  });
  return acts;
}

/** Whether an element says that it acts on keys itself. @param {Element} element */
function isOfOwnKind(element) {
  return element.matches(
    "[contenteditable], [role=button], [role=switch], [role=menuitem], [role=application], audio, video",
  );
}

/**
 * Whether an element wants a key for itself.
 * @param {Element} element
 * @param {string} key
 */
function takesKey(element, key) {
  const { tagName } = element;
  if (tagName === "SELECT" || tagName === "TEXTAREA") return true;
  if (element instanceof HTMLInputElement && element.type !== "checkbox") return true;
  return key === " " && (["BUTTON", "SUMMARY", "INPUT"].includes(tagName) || isOfOwnKind(element));
}

/**
 * @param {Player} player
 * @param {HTMLElement[]} places
 * @returns {() => void} what ends it
 */
function listenToKeys(player, places) {
  const acts = keyActs(player);
  /** @param {KeyboardEvent} event */
  const press = (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.defaultPrevented) return;
    if (takesKey(/** @type {Element} */ (event.target), event.key)) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const act = acts[event.shiftKey && key.length > 1 ? `shift ${key}` : key];
    if (!act) return;
    event.preventDefault();
    act();
  };
  /** @param {KeyboardEvent} event */
  const anywhere = (event) => {
    const { target } = event;
    if (event.key === " " && !(target instanceof Element && target.closest("dialog"))) press(event);
  };
  for (const place of places) place.addEventListener("keydown", press);
  document.addEventListener("keydown", anywhere);
  return () => document.removeEventListener("keydown", anywhere);
}
