/* The editor of a device file: numbers beside the lines, and from a finding to its place. It is a plain text
   field; without this script the numbers are those of the saved text. */
const text = document.querySelector(".editor textarea");
const gutter = document.querySelector(".editor .gutter");

function number() {
  const lines = text.value.split("\n").length;
  if (gutter.children.length === lines) return;
  while (gutter.children.length > lines) gutter.lastElementChild.remove();
  for (let n = gutter.children.length + 1; n <= lines; n += 1) {
    const line = document.createElement("span");
    line.id = `L${n}`;
    line.textContent = String(n);
    gutter.append(line);
  }
  text.rows = lines + 1;
}

function goTo(line, column) {
  const lines = text.value.split("\n");
  if (line < 1 || line > lines.length) return;
  let at = 0;
  for (let n = 0; n < line - 1; n += 1) at += lines[n].length + 1;
  text.focus({ preventScroll: true });
  text.setSelectionRange(at + Math.max(0, column - 1), at + lines[line - 1].length);
  gutter.children[line - 1]?.scrollIntoView({ block: "center" });
}

if (text && gutter) {
  text.addEventListener("input", number);
  document.querySelector(".said-list")?.addEventListener("click", (event) => {
    const link = event.target.closest("[data-line]");
    if (!link) return;
    event.preventDefault();
    goTo(Number(link.dataset.line), Number(link.dataset.column));
  });
  const asked = location.hash.match(/^#L([0-9]+)$/);
  if (asked) goTo(Number(asked[1]), 1);
  let saved = text.value;
  document.querySelector(".editor-form").addEventListener("submit", () => { saved = text.value; });
  addEventListener("beforeunload", (event) => {
    if (!text.readOnly && text.value !== saved) event.preventDefault();
  });
  document.addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && event.key === "s" && !text.readOnly) {
      event.preventDefault();
      text.form.requestSubmit();
    }
  });
}
