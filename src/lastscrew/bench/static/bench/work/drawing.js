/* The side of the machine that is at work, with the joint lit: parts that are off are gone, those that hang loose
   are dashed, numbers are the order of the screws. */
const SVG = "http://www.w3.org/2000/svg";

function node(name, attributes, ...children) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

const RECESS = {
  cross: (x, y, r) => `M${x - r} ${y}H${x + r}M${x} ${y - r}V${y + r}`,
  slot: (x, y, r) => `M${x - r} ${y}H${x + r}`,
  square: (x, y, r) => `M${x - r} ${y - r}h${2 * r}v${2 * r}h${-2 * r}z`,
  star: (x, y, r) => [0, 60, 120].map((turn) => {
    const [dx, dy] = [Math.cos((turn * Math.PI) / 180) * r, Math.sin((turn * Math.PI) / 180) * r];
    return `M${x - dx} ${y - dy}L${x + dx} ${y + dy}`;
  }).join(""),
  hexagon: (x, y, r) => `${[0, 60, 120, 180, 240, 300].map((turn, n) => {
    const angle = (turn * Math.PI) / 180;
    return `${n ? "L" : "M"}${x + Math.cos(angle) * r} ${y + Math.sin(angle) * r}`;
  }).join("")}z`,
};

function sideOf(drawing, item) {
  const lit = item.joint ? drawing.joints[item.joint] : null;
  const name = lit?.places.length ? lit.side : item.side;
  return drawing.sides.find((side) => side.side === name) ?? null;
}

/* The drawing for a step, or null where nothing is known of that side. */
export function draw(drawing, item, words) {
  const side = sideOf(drawing, item);
  if (!side) return null;
  const [width, height] = [side.high[0] - side.low[0], side.high[1] - side.low[1]];
  const at = ([x, y]) => [x - side.low[0], side.high[1] - y];
  const unit = Math.max(width, height) / 100;
  const svg = node("svg", {
    viewBox: `${-2 * unit} ${-4 * unit} ${width + 7 * unit} ${height + 7 * unit}`,
    role: "img",
    class: "machine",
    "aria-label": `${words.view} ${side.name ?? side.side}: ${item.name}`,
    style: `--unit:${unit}px`,
  });
  const gone = new Set(item.gone);
  const loose = new Set(item.loose);
  const photo = photoBelow(drawing, side, gone);
  if (photo) {
    svg.classList.add("on-photo");
    svg.append(placed(photo, at));
  }
  const lit = item.joint ? drawing.joints[item.joint] : null;
  const named = new Set(lit?.joins ?? []);
  for (const id of side.parts) {
    const part = drawing.parts[id];
    if (gone.has(id)) continue;
    const points = part.outline.map((point) => at(point).join(",")).join(" ");
    const covered = part.over.some((cover) => !gone.has(cover) && !loose.has(cover));
    const kind = [named.has(id) ? "named" : "", loose.has(id) ? "loose" : "", covered ? "covered" : "", part.fixed ? "fixed" : ""];
    svg.append(node("polygon", { points, class: `part ${kind.filter(Boolean).join(" ")}` }, node("title", {}, part.name)));
  }
  const opened = new Set(item.opened);
  for (const id of side.joints) {
    if (id === item.joint) continue;
    const joint = drawing.joints[id];
    if (opened.has(id)) continue;
    const hidden = joint.joins.every((part) => gone.has(part));
    if (!hidden) for (const place of joint.places) svg.append(head(at(place), joint, Math.max(joint.radius, unit * 0.7), "plain"));
  }
  if (lit && drawing.joints[item.joint].places.length && lit.side === side.side) drawLit(svg, drawing, item, at, unit);
  label(svg, drawing, side, named, gone, at, unit);
  return svg;
}

/* The depot's own photo of just what lies open now: the outer layers that are off are off on it too. */
function photoBelow(drawing, side, gone) {
  const layers = drawing.layers[side.side] ?? [];
  const shut = layers.findIndex((parts) => !parts.every((part) => gone.has(part)));
  const layer = shut < 0 ? layers.length : shut;
  return (drawing.photos ?? []).find((photo) => photo.side === side.side && photo.layer === layer);
}

/* Two points of the photo lie on two points of the machine: turned, scaled, shifted (w = a z + b). */
function placed(photo, at) {
  const [z1, z2] = photo.points.map(({ share }) => [share[0] * photo.width, share[1] * photo.height]);
  const [w1, w2] = photo.points.map(({ mm }) => at(mm));
  const [zx, zy, wx, wy] = [z2[0] - z1[0], z2[1] - z1[1], w2[0] - w1[0], w2[1] - w1[1]];
  const size = zx * zx + zy * zy;
  const [along, across] = [(wx * zx + wy * zy) / size, (wy * zx - wx * zy) / size];
  const shift = [w1[0] - along * z1[0] + across * z1[1], w1[1] - across * z1[0] - along * z1[1]];
  return node("image", {
    href: photo.address,
    width: photo.width,
    height: photo.height,
    transform: `matrix(${[along, across, -across, along, ...shift].join(" ")})`,
  });
}

function head([x, y], joint, radius, kind) {
  const group = node("g", { class: `head ${kind}` });
  const recess = RECESS[joint.recess];
  if (recess || joint.kind === "screw" || joint.kind === "nut") {
    group.append(node("circle", { cx: x, cy: y, r: radius }));
    if (recess) group.append(node("path", { d: recess(x, y, radius * 0.55) }));
  } else {
    group.append(node("rect", { x: x - radius, y: y - radius * 0.7, width: 2 * radius, height: 1.4 * radius, rx: radius * 0.25 }));
  }
  return group;
}

function drawLit(svg, drawing, item, at, unit) {
  const lit = drawing.joints[item.joint];
  const order = (item.kind === "close" ? lit.tighten : lit.loosen) ?? [];
  const radius = Math.max(lit.radius, unit * 1.1);
  lit.places.forEach((place) => {
    const [x, y] = at(place);
    svg.append(node("circle", { cx: x, cy: y, r: radius + unit * 1.4, class: "halo" }));
    svg.append(head([x, y], lit, radius, "lit"));
  });
  order.forEach(([joint, number], index) => {
    const place = drawing.joints[joint]?.places[number];
    if (!place || drawing.joints[joint].side !== lit.side) return;
    const [x, y] = at(place);
    svg.append(node("text", { x: x + radius + unit * 0.7, y: y - radius * 0.4, class: "order", "font-size": unit * 4 }, String(index + 1)));
  });
}

/* Names of the parts that the joint joins, where the outline has room. */
function label(svg, drawing, side, named, gone, at, unit) {
  for (const id of side.parts) {
    const part = drawing.parts[id];
    if (!named.has(id) || gone.has(id) || part.fixed) continue;
    const points = part.outline.map(at);
    const xs = points.map(([x]) => x);
    const ys = points.map(([, y]) => y);
    const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const size = Math.min(unit * 4, ((right - left) / Math.max(4, part.name.length)) * 1.7);
    if (size < unit * 1.8 || bottom - top < size * 1.3) continue;
    svg.append(node("text", { x: (left + right) / 2, y: (top + bottom) / 2 + size / 3, class: "name", "font-size": size, "text-anchor": "middle" }, part.name));
  }
}

/* How far the job is, as the V: the way in down the left limb, the way out up the right one. */
export function drawV(job, current) {
  const { stages } = job.bundle;
  const now = current && job.stageOf.get(current.id);
  const isOut = (stage) => stage.kind === "out" || stage.kind === "after";
  const svg = node("svg", { viewBox: "0 0 120 60", class: "vee", "aria-hidden": "true" });
  svg.append(node("path", { d: "M8 6 60 54 112 6" }));
  const put = (row, from, to) => row.forEach((stage, index) => {
    const share = row.length === 1 ? 0.5 : index / (row.length - 1);
    const [x, y] = [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share];
    const isDone = stage.items.every((item) => job.isDone(item));
    const state = stage === now ? "now" : isDone ? "done" : "";
    svg.append(node("circle", { cx: x, cy: y, r: stage === now ? 4.4 : Math.min(2.4, 26 / row.length), class: state }));
  });
  put(stages.filter((stage) => !isOut(stage)), [8, 6], [57, 51]);
  put(stages.filter(isOut), [63, 51], [112, 6]);
  return svg;
}
