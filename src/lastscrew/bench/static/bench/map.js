/* The drawing and the list beside it show the same part at once; on a page with boxes to tick, a tap on the
   drawing ticks the box. Without this script the parts of the drawing are plain links. */
const sheet = document.querySelector(".map-sheet");

function partner(id) {
  return document.querySelector(`[data-part-name="${CSS.escape(id)}"]`);
}

function light(id, on) {
  partner(id)?.classList.toggle("here", on);
  for (const shape of sheet.querySelectorAll(`[data-choose="${CSS.escape(id)}"]`)) {
    shape.classList.toggle("here", on);
  }
}

function mark(box) {
  for (const shape of sheet.querySelectorAll(`[data-part="${CSS.escape(box.dataset.partName)}"]`)) {
    shape.classList.toggle("chosen", box.checked);
  }
}

if (sheet) {
  for (const type of ["pointerover", "pointerout"]) {
    sheet.addEventListener(type, (event) => {
      const shape = event.target.closest("[data-choose]");
      if (shape) light(shape.dataset.choose, type === "pointerover");
    });
  }
  sheet.addEventListener("click", (event) => {
    const shape = event.target.closest("[data-choose]");
    const box = shape && partner(shape.dataset.choose);
    if (box?.type !== "checkbox") return;
    event.preventDefault();
    box.checked = !box.checked;
    box.dispatchEvent(new Event("change", { bubbles: true }));
  });
  for (const entry of document.querySelectorAll("[data-part-name]")) {
    const id = entry.dataset.partName;
    for (const [type, on] of [["focus", true], ["blur", false], ["pointerenter", true], ["pointerleave", false]]) {
      entry.addEventListener(type, () => light(id, on));
    }
    if (entry.type === "checkbox") entry.addEventListener("change", () => mark(entry));
  }
}
