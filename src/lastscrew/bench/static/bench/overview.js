/* The list by keys: j or arrow down, k or arrow up, Enter opens, x chooses for labels. */
const rows = [...document.querySelectorAll("[data-row]")];
let at = -1;

function go(to) {
  if (!rows.length) return;
  rows[at]?.classList.remove("here");
  at = Math.max(0, Math.min(rows.length - 1, to));
  rows[at].classList.add("here");
  rows[at].querySelector("a").focus();
  rows[at].scrollIntoView({ block: "nearest" });
}

rows.forEach((row, number) => {
  row.querySelector("a").addEventListener("focus", () => {
    rows[at]?.classList.remove("here");
    at = number;
    row.classList.add("here");
  });
});

if (rows.length) {
  document.body.dataset.ownKeys = "1";
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest("input:not([type=checkbox]), textarea, select")) return;
    const step = { j: 1, ArrowDown: 1, k: -1, ArrowUp: -1 }[event.key];
    if (step) {
      event.preventDefault();
      go(at + step);
    } else if (event.key === "x" && at >= 0) {
      const box = rows[at].querySelector("input");
      box.checked = !box.checked;
    }
  });
}
