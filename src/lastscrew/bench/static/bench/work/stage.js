/* One stage, or one step of it, in large type. */
import { caution, chip, el, fill, toSee } from "./elements.js";

function line({ kind, text }) {
  return el("p", { class: `line ${kind}` }, text);
}

function where(job, stage, item, words) {
  const side = (key) => job.bundle.sides?.[key] ?? key;
  const tool = item?.tool || stage.tool;
  return [stage.turn_to ? fill(words.turnTo, { side: side(stage.turn_to) }) : side(stage.side), tool]
    .filter(Boolean)
    .join(" · ");
}

const POWER = { live: "live", isolated: "isolated", check: "live" };

export function powerSign(power, words) {
  const kind = POWER[power];
  if (!kind) return null;
  const text = { live: words.live, isolated: words.isolated, check: words.check }[power];
  return el("p", { class: `power ${kind}` }, text);
}

function tapLine(job, item, index, words) {
  const tap = item.taps[index];
  const isDone = job.isTapDone(item, index);
  return el("li", { class: `tap ${tap.kind} ${isDone ? "done" : ""}` }, el("span", { class: "tick", "aria-hidden": "true" }, isDone ? "✓" : ""), el("span", {}, isDone ? el("span", { class: "unseen" }, `${words.done}: `) : null, tap.text));
}

/* Cautions and notices of more than one step stand once at the head of the stage, with the steps; a danger or
   a warning stands in full at each. */
function sharedCautions(stage) {
  const steps = new Map();
  for (const item of stage.items) {
    for (const { signal, text } of item.cautions) {
      if (signal === "danger" || signal === "warning") continue;
      const found = steps.get(text) ?? { signal, text, numbers: [] };
      found.numbers.push(item.number);
      steps.set(text, found);
    }
  }
  return [...steps.values()].filter(({ numbers }) => numbers.length > 1);
}

/* A step with all that has to be known. */
export function stepCard(job, item, words, { isNow, onChoose, shared = new Set() }) {
  const heading = [item.verb, item.name].filter(Boolean).join(": ");
  const isDone = job.isDone(item);
  const head = el(
    "h3",
    {},
    item.number ? el("span", { class: "number" }, String(item.number)) : null,
    el("button", { type: "button", class: "step-name", "aria-current": isNow ? "step" : null, onclick: () => onChoose(item) }, isDone ? el("span", { class: "unseen" }, `${words.done}: `) : null, heading),
  );
  const facts = [item.count, item.compartment ? fill(item.kind === "close" ? words.from : words.into, { place: item.compartment }) : ""].filter(Boolean);
  const see = (made) => toSee(item.id, made);
  const body = el(
    "div",
    { class: "step-body" },
    item.cautions.filter(({ text }) => !shared.has(text)).map(caution).map(see),
    item.cautions.filter(({ text }) => shared.has(text)).map(chip),
    item.taps.flatMap((tap) => tap.cautions).map(caution).map(see),
    facts.length ? see(el("p", { class: "facts" }, facts.join(" · "))) : null,
    item.parts ? el("p", { class: "parts" }, item.parts) : null,
    item.lines.map(line).map(see),
    item.after.map(line).map(see),
  );
  const saysMore = item.taps.length > 1 || (item.taps[0].kind !== "do" && item.taps[0].text !== item.name);
  const taps = saysMore ? el("ul", { class: "taps" }, item.taps.map((_, index) => tapLine(job, item, index, words))) : null;
  return el("article", { class: `step ${isNow ? "now" : ""} ${isDone ? "done" : ""}`, "data-item": item.id }, head, body, isNow || !isDone ? taps : null);
}

export function stageHead(job, stage, item, words, { byStep }) {
  const stages = job.bundle.stages;
  const kinds = { before: words.before, in: words.wayIn, turning: words.turning, out: words.wayOut, after: words.after };
  const count = fill(words.stageOf, { number: stages.indexOf(stage) + 1, count: stages.length });
  return el(
    "header",
    { class: "stage-head" },
    el("p", { class: "stage-count" }, `${kinds[stage.kind]} · ${count}`),
    el("h2", {}, where(job, stage, byStep ? item : null, words)),
    stage.lines.map(line).map((made) => toSee(stage.id, made)),
  );
}

/* The whole stage in the view by stages, one step in the view by steps. */
export function stageView(job, item, words, { byStep, onChoose }) {
  const stage = job.stageOf.get(item.id);
  const shown = byStep ? [item] : stage.items;
  const shared = byStep ? [] : sharedCautions(stage);
  const texts = new Set(shared.map(({ text }) => text));
  return el(
    "div",
    { class: `stage ${byStep ? "one" : ""}` },
    stageHead(job, stage, item, words, { byStep }),
    shared.map(({ signal, text, numbers }) => toSee(stage.id, caution({ signal, text: `${text} ${fill(words.steps, { numbers: numbers.filter(Boolean).join(", ") })}` }))),
    shown.map((each) => stepCard(job, each, words, { isNow: each === item, onChoose, shared: texts })),
  );
}

/* All steps of the job, to look ahead, to go to one, to say that all is done up to one. */
export function allSteps(job, current, words, { onChoose, onUpTo }) {
  return el(
    "ol",
    { class: "all" },
    job.bundle.stages.map((stage) =>
      el(
        "li",
        {},
        el("p", { class: "stage-count" }, where(job, stage, null, words) || words.turning),
        el(
          "ol",
          {},
          stage.items.map((item) => {
            const isDone = job.isDone(item);
            return el(
              "li",
              { class: `${isDone ? "done" : ""} ${item === current ? "now" : ""}` },
              el("button", { type: "button", class: "plain", onclick: () => onChoose(item) }, isDone ? "✓ " : "", [item.verb, item.name].filter(Boolean).join(": ")),
              isDone || !onUpTo ? null : el("button", { type: "button", class: "upto", onclick: () => onUpTo(item), "aria-label": fill(words.upToName, { name: item.name }) }, words.upTo),
            );
          }),
        ),
      ),
    ),
  );
}

export function ledgerStrip(job, words) {
  const { out, lost } = job.ledger();
  const total = out.reduce((sum, lot) => sum + lot.count, 0);
  const places = out.map((lot) => el("li", {}, el("b", {}, lot.compartment ?? "–"), ` ${lot.count} × ${lot.text}`, el("span", { class: "of" }, ` ${lot.name}`)));
  const losses = lost.map((loss) => el("li", { class: "lost" }, fill(loss.searched ? words.lostSearched : words.lostUnsearched, loss)));
  return el("section", { class: "ledger", "aria-label": words.ledger }, el("h2", {}, fill(total === 1 ? words.outOne : words.outMany, { count: total })), places.length || losses.length ? el("ul", {}, places, losses) : null);
}
