// How far the reader has come with each verset of a list.

function tellProgress() {
  /** @type {NodeListOf<HTMLElement>} */
  const places = document.querySelectorAll(".verset-shelf [data-work]");
  for (const place of places) {
    const steps = (place.dataset.work ?? "").split(" ").filter(Boolean);
    const begun = steps.filter((key) => memory.get(`work.${key}`, null) !== null);
    const told = { n: begun.length, steps: steps.length };
    place.textContent = begun.length ? say(place.dataset.told ?? "", told) : "";
  }
}
