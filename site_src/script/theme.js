// What the theme lacks for readers who hear or type: a name for its search, tables that scroll by keys.

function mendTheme() {
  const search = document.querySelector(".md-search[role=dialog]:not([aria-label])");
  const field = search?.querySelector("input");
  if (field) search.setAttribute("aria-label", field.getAttribute("aria-label") || field.placeholder);
  for (const table of document.querySelectorAll(".md-typeset__scrollwrap")) {
    if (table.scrollWidth > table.clientWidth) table.tabIndex = 0;
    else table.removeAttribute("tabindex");
  }
}

addEventListener("load", () => {
  mendTheme();
  // The theme wraps its tables once it is awake.
  if (document.querySelector(".md-content")) new ResizeObserver(mendTheme).observe(document.querySelector(".md-content"));
});
