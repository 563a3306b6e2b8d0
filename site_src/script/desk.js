// The music desk: nothing but staves, as large as the screen allows, turned like pages.

const SMALLEST = 0.86; // share of their size to which systems shrink for one more to fit the page

function createDesk(player) {
  const { words, music, transport, marks } = player;
  const sheet = el("div", { class: "verset-sheet" });
  const pageNumber = el("span", { class: "verset-place" });
  const leaf = el(
    "span",
    { class: "verset-pace" },
    button(words.deskPrevious, () => turn(-1)),
    pageNumber,
    button(words.deskNext, () => turn(1)),
  );
  const size = button(words.deskLarger, () => resize());
  const dialog = el(
    "dialog",
    { class: "verset-music-desk", "aria-label": words.desk, close: leave },
    sheet,
    el(
      "div",
      { class: "verset-desk-foot" },
      leaf,
      size,
      button(words.deskClose, () => dialog.close()),
    ),
  );
  let taken = null; // the systems lent to the desk, and where they go back to
  let pages = [];
  let page = 0;
  let large = memory.get("deskLarge", innerWidth < 900);

  function block() {
    const shown = music.blocks.filter((each) => !each.figure.hidden);
    return shown.find((each) => each.version === transport.settings.version) ?? shown[0];
  }

  function take() {
    const { sets } = block();
    const wanted = large ? "verset-narrow" : "verset-wide"; // fewer bars a line make larger notes
    const set = sets.find((each) => each.holder.classList.contains(wanted)) ?? sets[0];
    taken = { holder: set.holder, home: set.holder.parentNode, next: set.holder.nextSibling, systems: set.systems };
    taken.version = transport.settings.version;
    sheet.replaceChildren(set.holder);
    size.textContent = large ? words.deskSmaller : words.deskLarger;
    size.hidden = sets.length < 2;
    requestAnimationFrame(lay);
  }

  function giveBack() {
    if (!taken) return;
    for (const system of taken.systems) system.svg.classList.remove("verset-turned");
    taken.home.insertBefore(taken.holder, taken.next);
    taken = null;
  }

  /** Spread the systems over pages of the screen's height. */
  function lay() {
    if (!taken) return;
    const drawings = [...new Set(taken.systems.map((system) => system.svg))];
    drawings.forEach((svg) => svg.classList.remove("verset-turned"));
    const room = sheet.clientHeight;
    // Where one system more would nearly fit, all are drawn a little smaller.
    sheet.style.setProperty("--verset-size", "1");
    const tall = drawings.reduce((sum, svg) => sum + svg.getBoundingClientRect().height + 8, 0) / drawings.length;
    const size = (room - 2) / ((Math.floor(room / tall) + 1) * tall);
    if (size > SMALLEST && size < 1 && drawings.length > Math.floor(room / tall)) sheet.style.setProperty("--verset-size", size.toFixed(3));
    pages = [];
    let left = 0;
    for (const svg of drawings) {
      const height = svg.getBoundingClientRect().height + 8;
      if (!pages.length || height > left) {
        pages.push([]);
        left = room;
      }
      pages[pages.length - 1].push(svg);
      left -= height;
    }
    player.lay();
    showBar(marks.bar);
  }

  function show(number) {
    page = clamp(number, 0, pages.length - 1);
    pages.forEach((drawings, n) => drawings.forEach((svg) => svg.classList.toggle("verset-turned", n !== page)));
    leaf.hidden = pages.length < 2;
    pageNumber.textContent = say(words.deskPage, { page: page + 1, pages: pages.length });
    sheet.scrollTop = 0;
  }

  function turn(step) {
    show(page + step);
  }

  function showBar(bar) {
    const system = taken?.systems.find((each) => each.bars.some((one) => one.number === bar));
    const at = pages.findIndex((drawings) => drawings.includes(system?.svg));
    if (at !== page || !system) show(Math.max(at, 0));
    else show(page);
  }

  function resize() {
    large = !large;
    memory.set("deskLarge", large);
    giveBack();
    take();
  }

  function leave() {
    giveBack();
    player.root.prepend(player.strip);
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    player.root.querySelector(".verset-desk-open")?.focus();
  }

  // A touch at the edge turns the page; in the middle it goes to the note, as on the page.
  sheet.addEventListener("click", (event) => {
    const part = event.clientX / innerWidth;
    if (part < 0.15) turn(-1);
    else if (part > 0.85) turn(1);
  });

  const TURNS = { ArrowRight: 1, ArrowDown: 1, PageDown: 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1 };
  dialog.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    if (["INPUT", "SELECT"].includes(event.target.tagName)) return;
    if (event.key in TURNS) turn(TURNS[event.key]);
    else if (event.key === " " && event.target.tagName !== "BUTTON") player.toggle();
    else return;
    event.preventDefault();
    event.stopPropagation();
  });

  const resized = () => dialog.open && lay();
  addEventListener("resize", resized);
  // Another version needs other staves.
  transport.listen(() => {
    if (!taken || taken.version === transport.settings.version) return;
    giveBack();
    take();
  });
  marks.onBar((bar) => dialog.open && pages.length && showBar(bar));
  document.body.append(dialog);

  return {
    dialog,
    get isOpen() {
      return dialog.open;
    },
    get page() {
      return [page, pages.length];
    },
    async open() {
      if (dialog.open || !block()) return;
      dialog.showModal();
      // All that the strip can do is wanted at the desk too.
      dialog.append(player.strip);
      take();
      sheet.tabIndex = -1;
      player.strip.querySelector(".verset-go").focus();
      // Whole screen where the browser allows it; the page is complete without.
      await document.documentElement.requestFullscreen?.().catch(() => {});
    },
    close: () => dialog.close(),
    remove() {
      removeEventListener("resize", resized);
      if (dialog.open) dialog.close();
      dialog.remove();
    },
  };
}
