/* Things go wrong, and what else can be said: each in two taps. */
import { ask, el, fill, json } from "./elements.js";

function fieldFor([key, label, kind]) {
  const input = el("input", { name: key, required: true, type: kind === "text" ? "text" : "number", maxlength: 400, min: kind === "text" ? null : 0, step: kind === "number" ? "any" : 1, inputmode: kind === "text" ? "text" : "decimal" });
  return el("label", {}, label, input);
}

/* Events of a choice with what was filled in. */
function filled(choice, form) {
  const [first, ...rest] = choice.events;
  const values = {};
  for (const [key, , kind] of choice.asks) {
    const text = form.elements[key].value.trim();
    values[key] = kind === "text" ? text : Number(text);
  }
  return [{ ...first, ...values }, ...rest];
}

/* One number for all choices of a list: 1 unless somebody says otherwise. */
function counter(most, words, changed) {
  let count = 1;
  const shown = el("output", { class: "count" }, "1");
  const by = (step) => {
    count = Math.min(most, Math.max(1, count + step));
    shown.textContent = String(count);
    less.disabled = count <= 1;
    more.disabled = count >= most;
    changed(count);
  };
  const less = el("button", { type: "button", "aria-label": words.oneLess, disabled: true, onclick: () => by(-1) }, "−");
  const more = el("button", { type: "button", "aria-label": words.oneMore, onclick: () => by(1) }, "+");
  return el("div", { class: "counter", role: "group", "aria-label": words.howMany }, el("span", {}, words.howMany), less, shown, more);
}

/* The second tap. Where pieces are counted, the number stands above the choices and goes with each. */
function choicesOf(trouble, bundle, words, shut) {
  const counted = trouble.choices.filter((choice) => choice.counted);
  const most = Math.max(0, ...counted.map((choice) => choice.counted));
  let count = 1;
  const buttons = counted.map((choice) => {
    const button = el("button", { type: "button", onclick: () => {
      const [first, ...rest] = choice.events;
      shut([{ ...first, count: Math.min(count, choice.counted) }, ...rest]);
    } }, fill(choice.text, { count }));
    return { choice, button };
  });
  const others = trouble.choices.filter((choice) => !choice.counted).flatMap((choice) => choiceRows(choice, bundle, shut));
  const number = most > 1 ? counter(most, words, (chosen) => {
    count = chosen;
    for (const { choice, button } of buttons) button.textContent = fill(choice.text, { count });
  }) : null;
  // The usual one is the first thing that has the focus: two taps, or two presses of Enter.
  buttons[0]?.button.setAttribute("data-first", "");
  return [number, ...buttons.map(({ button }) => button), ...others];
}

function choiceRows(choice, bundle, shut) {
  if (choice.parts.length) {
    return choice.parts.map((part) => {
      const [first, ...rest] = choice.events;
      const name = bundle.parts[part] ?? part;
      return el("button", { type: "button", onclick: () => shut([{ ...first, part }, ...rest]) }, choice.text.replace("{part}", name));
    });
  }
  if (choice.asks.length) {
    const form = el("form", { class: "asks", onsubmit: (event) => {
      event.preventDefault();
      shut(filled(choice, form));
    } }, el("b", {}, choice.text), choice.asks.map(fieldFor), el("button", {}, choice.text));
    return [form];
  }
  return [el("button", { type: "button", onclick: () => shut(choice.events) }, choice.text)];
}

/* First what kind of thing, then what exactly; resolves with the events, null for none. */
export async function whatWentWrong(job, item, words) {
  const limb = item.kind === "close" || item.limb === "out" ? "out" : "in";
  const found = (job.bundle.trouble[item.joint ?? item.id] ?? []).filter((trouble) => trouble.limbs.includes(limb));
  const first = await ask(fill(words.wrongAt, { name: item.name }), (shut) =>
    el("div", { class: "ask-body choices" }, found.map((trouble) => el("button", { type: "button", onclick: () => shut(trouble) }, trouble.text)), el("button", { type: "button", onclick: () => shut("elsewhere") }, words.otherOrder), el("button", { type: "button", onclick: () => shut("joint") }, words.otherJoint), el("button", { type: "button", onclick: () => shut("hazard") }, words.hazard)), words);
  if (first === null) return null;
  if (first === "elsewhere") return anotherFirst(job, words);
  if (first === "joint") return atAnotherJoint(job, item, words);
  if (first === "hazard") return setApart(words);
  return ask(first.text, (shut) => el("div", { class: "ask-body choices" }, choicesOf(first, job.bundle, words, shut)), words);
}

/* A pack that swells or was pierced stops the work: what to do now stands here, with or without the network. */
async function setApart(words) {
  const { unit } = json("told");
  const now = document.getElementById("hazards").content.cloneNode(true);
  await ask(words.hazard, () => el("div", { class: "ask-body" }, now, el("p", {}, el("a", { class: "button", href: `/units/${encodeURIComponent(unit)}/?tell=hazard_met#hazard` }, words.setApart))), words);
  return null;
}

/* What is noticed later, or further on: a screw of an earlier step that is not in the tray any more. */
async function atAnotherJoint(job, item, words) {
  const others = new Map();
  for (const each of job.items) {
    if (each.joint && each.joint !== item.joint && !others.has(each.joint) && job.bundle.trouble[each.joint]?.length) others.set(each.joint, each);
  }
  const chosen = await ask(words.otherJoint, (shut) =>
    el("div", { class: "ask-body choices" }, [...others.values()].map((each) => el("button", { type: "button", onclick: () => shut(each) }, each.name))), words);
  return chosen === null ? null : whatWentWrong(job, chosen, words);
}

/* Another order was used: what was opened or closed instead. */
function anotherFirst(job, words) {
  const now = job.bundle.elsewhere;
  const group = (limb, title, shut) => {
    const rows = now.filter((each) => each.limb === limb);
    if (!rows.length) return [];
    return [el("h3", {}, title), ...rows.map((each) => el("button", { type: "button", onclick: () => shut([each.event]) }, each.name))];
  };
  return ask(words.otherOrder, (shut) => el("div", { class: "ask-body choices" }, group("in", words.openedInstead, shut), group("out", words.closedInstead, shut)), words);
}

/* A note or a photo at a step. */
export function noteAt(item, words) {
  const about = item?.joint ? { joint: item.joint } : {};
  return ask(words.note, (shut) => {
    const text = el("textarea", { name: "text", maxlength: 2_000, required: true });
    const file = el("input", { type: "file", name: "photo", accept: "image/*", capture: "environment", "aria-label": words.photo });
    const warned = el("p", { class: "wrong", role: "alert", hidden: true }, words.passCode);
    return el("div", { class: "ask-body" },
      el("form", { onsubmit: (event) => {
        event.preventDefault();
        const said = text.value.trim();
        if (looksLikePassCode(said) && warned.hidden) {
          warned.hidden = false;
          return;
        }
        shut({ events: [{ event: "noted", text: said, ...about }] });
      } }, el("label", {}, words.noteText, text), warned, el("button", { class: "main" }, words.keepNote)),
      el("label", {}, words.photo, file),
      el("button", { type: "button", onclick: () => {
        const [picture] = file.files;
        if (picture) shut({ photo: picture, about });
      } }, words.keepPhoto),
    );
  }, words);
}

/* Notes are read by everybody and kept: no pass codes in them. */
export function looksLikePassCode(text) {
  return /\b(pass\s?(word|code|phrase)?|pin|kennwort|passwort|code)\b\s*(is|ist|:|=|-)?\s*\S{3,}/i.test(text);
}

/* Pause, hand over, one thing more or less. */
export function more(job, words, { isReading, canRead, byStep }) {
  const { targets, status } = job.bundle;
  return ask(words.more, (shut) => {
    const other = el("input", { name: "to", required: true, maxlength: 200, autocomplete: "off" });
    const what = el("select", { name: "what" }, targets.more.map((each) => el("option", { value: each.replace }, each.name)));
    return el("div", { class: "ask-body" },
      el("div", { class: "choices" },
        el("button", { type: "button", onclick: () => shut({ view: !byStep }) }, byStep ? words.byStage : words.byStep),
        canRead ? el("button", { type: "button", onclick: () => shut({ read: !isReading }) }, isReading ? words.readOff : words.readOn) : null,
        el("button", { type: "button", onclick: () => shut({ events: [{ event: status.paused ? "resumed" : "paused" }] }) }, status.paused ? words.resume : words.pause),
        job.bundle.last.filter((each) => !each.started).slice(0, 1).map((each) => el("button", { type: "button", onclick: () => shut({ events: [{ event: "taken_back", about: each.id }] }) }, fill(words.takeBack, { text: each.text }))),
      ),
      el("form", { class: "asks", onsubmit: (event) => {
        event.preventDefault();
        shut({ events: [{ event: "handed_over", to: other.value.trim() }] });
      } }, el("label", {}, words.handOverTo, other), el("button", {}, words.handOver)),
      el("form", { class: "asks", onsubmit: (event) => {
        event.preventDefault();
        shut({ events: [{ event: "target_added", replace: what.value }] });
      } }, el("label", {}, words.also, what), el("button", {}, words.add)),
      targets.fewer.length ? el("div", { class: "choices" }, el("h3", {}, words.fewer), targets.fewer.map(({ name, ...about }) => el("button", { type: "button", onclick: () => shut({ events: [{ event: "target_dropped", ...about }] }) }, fill(words.drop, { name })))) : null,
    );
  }, words);
}
