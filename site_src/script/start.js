// The player wakes up when the page is there.

/** @type {Player | null} */
let player = null;
/** @type {((player: Player) => void)[]} */
const wakened = [];
// What the exercises need of this script, and a way to be told when a player is awake.
window.versetReader = {
  el,
  svgEl,
  say,
  clamp,
  memory,
  button,
  row,
  hintLine,
  readVersion,
  createOrgan: (context, data) => new Organ(context, data),
  createKeys: (owner, hertz) => new KeysOnScreen(owner, hertz),
  whenAwake(act) {
    wakened.push(act);
    if (player) act(player);
  },
};

function wakePage() {
  if (player && document.contains(player.root)) return;
  player?.leave();
  player = null;
  /** @type {HTMLElement | null} */
  const root = document.querySelector(".verset-player");
  if (!root) return;
  const began = performance.now();
  /** @type {NodeListOf<HTMLElement>} */
  const figures = document.querySelectorAll(".verset-music[data-version]");
  player = new Player(root, [...figures]);
  performance.measure("verset-awake", { start: began });
  for (const act of wakened) act(player);
  root.verset = player;
  if (location.hash === IN_CLASS) player.classroom.open();
}

// A theme that exchanges pages without loading tells so through `document$`.
function wake() {
  wakePage();
  offerDrills();
  tellProgress();
}

if (window.document$?.subscribe) window.document$.subscribe(wake);
else if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", wake);
else wake();
