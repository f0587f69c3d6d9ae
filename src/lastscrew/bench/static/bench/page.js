/* What every page does: a hand scanner is a keyboard, so its text must land in the search field. */
const find = document.querySelector("[data-scan]");

/* A scanner types faster than a person and ends with Enter. Where no text field has the focus, what it
   types goes to the search, also where a button has the focus or a page has keys of its own. "/" puts
   the focus into the search field by hand. */
const FASTEST_PERSON_MS = 60;
let typed = "";
let last = 0;

function tookScan(event) {
  const now = event.timeStamp;
  if (now - last > FASTEST_PERSON_MS) typed = "";
  last = now;
  if (event.key.length === 1) {
    typed += event.key;
    return false;
  }
  if (event.key !== "Enter" || typed.trim().length < 4) return false;
  event.preventDefault();
  event.stopImmediatePropagation();
  find.value = typed;
  find.form.requestSubmit();
  return true;
}

document.addEventListener(
  "keydown",
  (event) => {
    if (!find || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest?.("input:not([type=checkbox]):not([type=radio]), textarea, select, [contenteditable], dialog")) return;
    if (tookScan(event)) return;
    const onControl = event.target.closest?.("button, a, summary, input");
    if (event.key === "/") {
      event.preventDefault();
      find.focus();
    } else if (!onControl && /^[\p{L}\p{N}]$/u.test(event.key) && !document.body.dataset.ownKeys) {
      find.focus();
    }
  },
  true,
);

/* What scrolls inside itself can be scrolled by keys. */
for (const wide of document.querySelectorAll(".wide, .record table")) {
  if (wide.scrollWidth > wide.clientWidth) wide.tabIndex = 0;
}

/* The camera reads labels too, where the browser can; the button is shown only there. */
const camera = document.querySelector("[data-camera]");
if (camera && find) {
  const { formats, scan } = await import("./scan.js");
  const canScan = (await formats()).includes("qr_code");
  camera.hidden = !canScan;
  for (const said of document.querySelectorAll("[data-no-camera]")) said.hidden = canScan;
  camera.addEventListener("click", async () => {
    const text = await scan(camera.dataset);
    if (text) {
      find.value = text;
      find.form.requestSubmit();
    }
  });
}

/* A browser gives the camera and working without the network to trusted connections only. */
const lacking = document.querySelector("[data-lacking]");
if (lacking && !window.isSecureContext) lacking.hidden = false;
