// What the theme lacks for readers who hear or type: a name for its search, tables that scroll by keys.

const TYPESET = "md-typeset"; // the class of what the theme sets as words

function mendTheme() {
  const search = document.querySelector(".md-search[role=dialog]:not([aria-label])");
  const field = search?.querySelector("input");
  if (field) search?.setAttribute("aria-label", field.getAttribute("aria-label") || field.placeholder);
  /** @type {NodeListOf<HTMLElement>} */
  const tables = document.querySelectorAll(".md-typeset__scrollwrap");
  for (const table of tables) {
    if (table.scrollWidth > table.clientWidth) table.tabIndex = 0;
    else table.removeAttribute("tabindex");
  }
}

addEventListener("load", () => {
  mendTheme();
  // The theme wraps its tables once it is awake.
  const content = document.querySelector(".md-content");
  if (content) new ResizeObserver(mendTheme).observe(content);
});
