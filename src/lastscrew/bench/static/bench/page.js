/* What every page does: a hand scanner is a keyboard, so its text must land in the search field. */
const find = document.querySelector("[data-scan]");

/* A scanner types faster than a person and ends with Enter. Where no field has the focus, what it
   types goes into the search field. "/" puts the focus there by hand. */
document.addEventListener("keydown", (event) => {
  if (!find || event.ctrlKey || event.metaKey || event.altKey) return;
  const inField = event.target.closest?.("input, textarea, select, [contenteditable], button, a, summary");
  if (inField) return;
  if (event.key === "/") {
    event.preventDefault();
    find.focus();
  } else if (/^[\p{L}\p{N}]$/u.test(event.key) && !document.body.dataset.ownKeys) {
    find.focus();
  }
});
