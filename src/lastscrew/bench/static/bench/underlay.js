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
    corner: "Tap corner %1 on the photo.",
    corners: "All four corners are known. Straighten it.",
  },
  de: {
    photo: "Punkt %1 auf dem Foto antippen.",
    drawing: "Punkt %1 auf der Zeichnung antippen.",
    done: "Beide Punkte sind bekannt. Das Foto kann daruntergelegt werden.",
    corner: "Ecke %1 auf dem Foto antippen.",
    corners: "Alle vier Ecken sind bekannt. Das Foto kann gerade gemacht werden.",
  },
};
const slant = document.getElementById("slant");
const corners = slant ? [...slant.querySelectorAll("[data-corner]")].map((set) => set.dataset.corner) : [];
const words = WORDS[document.documentElement.lang] ?? WORDS.en;

function field(name, point) {
  return document.getElementById(`${name}_${point}`);
}

function corner(name, number) {
  return document.getElementById(`corner_${name}_${number}`);
}

function wantedCorner() {
  return corners.find((number) => !corner("x", number).value || !corner("y", number).value) ?? "";
}

function mark(number, x, y) {
  if (Number.isNaN(x) || Number.isNaN(y)) return;
  const sign = document.createElement("span");
  sign.className = "tap-mark";
  sign.textContent = number;
  sign.style.left = `${x}%`;
  sign.style.top = `${y}%`;
  photo.parentElement.append(sign);
}

function wanted() {
  for (const point of points) {
    if (!field("share_x", point).value || !field("share_y", point).value) return ["photo", point];
    if (!field("mm_x", point).value || !field("mm_y", point).value) return ["drawing", point];
  }
  return ["done", ""];
}

function show() {
  document.querySelectorAll(".tap-mark").forEach((sign) => sign.remove());
  if (slant?.open) {
    const open = wantedCorner();
    next.textContent = words[open ? "corner" : "corners"].replace("%1", open);
    for (const number of corners) {
      mark(number, Number.parseFloat(corner("x", number).value), Number.parseFloat(corner("y", number).value));
    }
    return;
  }
  const [what, point] = wanted();
  next.textContent = words[what].replace("%1", point);
  for (const number of points) {
    mark(number, Number.parseFloat(field("share_x", number).value), Number.parseFloat(field("share_y", number).value));
  }
}

/* On a phone photo and drawing do not fit on the screen together: bring there what is to be tapped next. */
function lead() {
  const [what] = wanted();
  const place = { photo, drawing, done: next }[what];
  place.scrollIntoView({ block: "nearest" });
}

function putCorner(x, y) {
  // A tap when all are known begins anew.
  if (!wantedCorner()) for (const number of corners) for (const name of ["x", "y"]) corner(name, number).value = "";
  const open = wantedCorner();
  corner("x", open).value = x.toFixed(2);
  corner("y", open).value = y.toFixed(2);
  show();
}

function put(name, point, value) {
  field(name, point).value = value.toFixed(2);
}

if (photo && drawing) {
  let again = points[0];
  photo.addEventListener("click", (event) => {
    if (slant?.open) {
      const area = photo.getBoundingClientRect();
      putCorner(((event.clientX - area.left) / area.width) * 100, ((event.clientY - area.top) / area.height) * 100);
      return;
    }
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
    lead();
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
    lead();
  });
  document.getElementById("fix").addEventListener("input", show);
  slant?.addEventListener("toggle", show);
  slant?.addEventListener("input", show);
  show();
}
