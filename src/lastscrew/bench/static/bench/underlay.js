/* Two points on the photo and on the drawing: a tap fills in the numbers, which can be typed as well. */
const photo = document.getElementById("tap-photo");
const drawing = document.querySelector("#tap-drawing .map-sheet");
const next = document.getElementById("tap-next");
const points = [...document.querySelectorAll("[data-point]")].map((set) => set.dataset.point);
const WORDS = {
  en: {
    photo: "Tap point %1 on the photo.",
    drawing: "Tap point %1 on the drawing.",
    done: "Both points are known. Lay it below.",
  },
  de: {
    photo: "Punkt %1 auf dem Foto antippen.",
    drawing: "Punkt %1 auf der Zeichnung antippen.",
    done: "Beide Punkte sind bekannt. Das Foto kann daruntergelegt werden.",
  },
};
const words = WORDS[document.documentElement.lang] ?? WORDS.en;

function field(name, point) {
  return document.getElementById(`${name}_${point}`);
}

function wanted() {
  for (const point of points) {
    if (!field("share_x", point).value || !field("share_y", point).value) return ["photo", point];
    if (!field("mm_x", point).value || !field("mm_y", point).value) return ["drawing", point];
  }
  return ["done", ""];
}

function show() {
  const [what, point] = wanted();
  next.textContent = words[what].replace("%1", point);
  document.querySelectorAll(".tap-mark").forEach((mark) => mark.remove());
  for (const number of points) {
    const x = Number.parseFloat(field("share_x", number).value);
    const y = Number.parseFloat(field("share_y", number).value);
    if (Number.isNaN(x) || Number.isNaN(y)) continue;
    const mark = document.createElement("span");
    mark.className = "tap-mark";
    mark.textContent = number;
    mark.style.left = `${x}%`;
    mark.style.top = `${y}%`;
    photo.parentElement.append(mark);
  }
}

function put(name, point, value) {
  field(name, point).value = value.toFixed(2);
}

if (photo && drawing) {
  let again = points[0];
  photo.addEventListener("click", (event) => {
    const [what, open] = wanted();
    const point = what === "done" ? again : open;
    if (what === "done") {
      for (const name of ["mm_x", "mm_y"]) field(name, point).value = "";
      again = again === points[0] ? points[1] : points[0];
    }
    const box = photo.getBoundingClientRect();
    put("share_x", point, ((event.clientX - box.left) / box.width) * 100);
    put("share_y", point, ((event.clientY - box.top) / box.height) * 100);
    show();
  });
  drawing.addEventListener("click", (event) => {
    const svg = drawing.querySelector("svg");
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    const { scale, lowX, highY, top } = drawing.dataset;
    const [what, open] = wanted();
    if (what !== "drawing") return;
    put("mm_x", open, Number(lowX) + at.x / Number(scale));
    put("mm_y", open, Number(highY) - (at.y - Number(top)) / Number(scale));
    show();
  });
  document.getElementById("fix").addEventListener("input", show);
  show();
}
