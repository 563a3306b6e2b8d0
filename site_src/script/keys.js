// Keys work only while the music or the controls have the focus, so that they never take a key from the page,
// the browser or a screen reader.

function listenToKeys(player, places) {
  const { transport } = player;
  const bar = () => player.marks.bar;

  function extend(step) {
    const [low, high] = player.barSpan;
    const [first, last] = transport.settings.repeat ?? [bar(), bar()];
    const began = transport.settings.repeat !== null;
    const end = began ? clamp(last + step, low, high) : clamp(last, low, high);
    player.setRepeat([Math.min(first, end), end]);
  }

  const acts = {
    " ": () => player.toggle(),
    ArrowLeft: () => player.toBar(bar() - 1),
    ArrowRight: () => player.toBar(bar() + 1),
    "shift ArrowLeft": () => extend(-1),
    "shift ArrowRight": () => extend(1),
    Home: () => player.again(),
    "-": () => player.pace(-SPEEDS.step),
    "+": () => player.pace(SPEEDS.step),
    "=": () => player.pace(SPEEDS.step),
    r: () => player.setRepeat(transport.settings.repeat ? null : [bar(), bar()]),
    v: () => player.nextVersion(),
    d: () => player.desk.open(),
  };
  player.sounding.forEach((voice, n) => {
    acts[String(n + 1)] = () => player.setVoice(voice, player.silent.has(voice));
  });

  function press(event) {
    if (event.altKey || event.ctrlKey || event.metaKey || event.defaultPrevented) return;
    const { tagName, type } = event.target;
    const ownKeys = tagName === "SELECT" || tagName === "TEXTAREA" || (tagName === "INPUT" && type !== "checkbox");
    if (ownKeys) return;
    const presses = tagName === "BUTTON" || tagName === "SUMMARY" || tagName === "INPUT" || tagName === "A";
    if (presses && event.key === " ") return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const act = acts[event.shiftKey && key.length > 1 ? `shift ${key}` : key];
    if (!act) return;
    event.preventDefault();
    act();
  }
  for (const place of places) place.addEventListener("keydown", press);
}
