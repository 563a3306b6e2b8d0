// Drills are loaded when the reader opens them: the scripts one after another, as the page may fetch nothing.

/**
 * Load a script of the site, once.
 * @param {string} address
 * @returns {Promise<void>}
 */
function loadScript(address) {
  const known = [...document.scripts].find((each) => each.src === new URL(address, document.baseURI).href);
  if (known) return Promise.resolve();
  return new Promise((done, failed) => {
    const script = el("script", {
      src: address,
      load: () => done(),
      error: () => failed(new Error(address)),
    });
    document.head.append(script);
  });
}

/**
 * Load several scripts, each after the one before.
 * @param {string[]} addresses
 */
async function loadScripts(addresses) {
  for (const address of addresses) await loadScript(address);
}

/** A button beside each list of drills of the page. */
function offerDrills() {
  /** @type {NodeListOf<HTMLElement>} */
  const places = document.querySelectorAll(".verset-drills:not(.is-awake)");
  for (const root of places) {
    root.classList.add("is-awake");
    /** @type {DrillWish} */
    const wish = JSON.parse(root.querySelector(".verset-drill-wish")?.textContent ?? "");
    const said = el("p", { class: "verset-hint", "aria-live": "polite" });
    const open = button(wish.words.begin, async () => {
      open.disabled = true;
      said.textContent = wish.words.loading;
      try {
        await loadScripts(wish.scripts);
        said.textContent = "";
        window.versetDrilling?.(root, wish, loadScripts);
      } catch {
        open.disabled = false;
        said.textContent = wish.words.failed;
      }
    });
    root.append(row(open), said);
  }
}
