/* The work page: stage by stage, one tap a stage; it goes on without the network. */
import { draw, drawV } from "./drawing.js";
import { ask, caution, el, fill, json, minutes } from "./elements.js";
import { FaultBox } from "./fault.js";
import { Job, tapKey } from "./job.js";
import { keep, keepBundle, keepPhoto, keptBundle, knows, local } from "./kept.js";
import { Seen } from "./seen.js";
import { Sender } from "./sending.js";
import { canRead, hush, read } from "./speech.js";
import { allSteps, ledgerStrip, powerSign, stageView } from "./stage.js";
import { more, noteAt, whatWentWrong } from "./trouble.js";

const told = json("told");
const words = json("words");
const run = told.run;
const POLL_MS = 8_000;
const BEFORE_PRESSES_MS = 300;

const narrow = matchMedia("(max-width: 56rem)");
const phone = matchMedia("(max-width: 40rem)");
const at = (name) => document.querySelector(`[data-at="${name}"]`);
const wanted = {
  get byStep() {
    const said = localStorage.getItem("lastscrew-by-step");
    return said === null ? told.isBeginner : said === "1";
  },
  set byStep(on) {
    localStorage.setItem("lastscrew-by-step", on ? "1" : "0");
  },
};

let job = null;
let cursor = null;
let split = [];
let isReading = false;
let lastPress = 0;
let isBusy = false;
let showsAll = false;
// What has to be known first stands at the top: the page scrolls to the work only once somebody has begun.
let hasMoved = false;
// After something was taken back, the first open step is the place to be.
let startsAnew = false;

const fault = new FaultBox(at("fault"), words);
const seen = new Seen(at("stage"), () => document.querySelector(".thumbs").getBoundingClientRect().top);

const sender = new Sender(run, (state) => {
  showStatus(state);
  if (state.follow) load();
});

/* Another window of this browser at the same job is the same screen: it sees what was tapped here. */
const windows = "BroadcastChannel" in window ? new BroadcastChannel(`lastscrew-${run}`) : null;
windows?.addEventListener("message", async () => {
  if (!job) return;
  const kept = await keptBundle(run);
  if (kept && kept.version > job.bundle.version) job.bundle = kept;
  await refresh();
  show();
});

/* --- what is known ---------------------------------------------------------------------------------------- */

async function fetchBundle() {
  try {
    const answer = await fetch(`/runs/${run}/bundle.json`, { headers: { Accept: "application/json" } });
    if (!answer.ok) return null;
    return await answer.json();
  } catch {
    return null;
  }
}

async function load() {
  const unsent = (await local(run)).some((event) => !event.sent);
  const fresh = await fetchBundle();
  if (fresh) {
    split = fresh.split;
    fresh.bundle.drawing.photos = fresh.photos;
    if (!job || fresh.bundle.version >= job.bundle.version) await keepBundle(run, fresh.bundle);
    windows?.postMessage("kept");
    if (!fresh.bundle.status.outcome) fault.follow();
    // What is not sent yet was done without knowing what is new here: it keeps what it knew.
    await knows(run, fresh.bundle.version);
  }
  let bundle = fresh?.bundle ?? (await keptBundle(run));
  // Two answers may overtake each other: what is older than what is shown changes nothing.
  if (job && bundle && bundle.version < job.bundle.version) bundle = job.bundle;
  if (!bundle) {
    at("stage").replaceChildren(el("p", { class: "wrong" }, words.notKept));
    return;
  }
  job = new Job(bundle, await local(run));
  const before = startsAnew ? null : cursor;
  startsAnew = false;
  cursor = job.items.find((item) => item.id === before?.id && !job.isDone(item)) ?? job.current();
  if (unsent) sender.start();
  show();
}

async function refresh() {
  job = new Job(job.bundle, await local(run));
  cursor = job.items.find((item) => item.id === cursor?.id) ?? job.current();
}

/* --- showing ---------------------------------------------------------------------------------------------- */

function show() {
  const { bundle } = job;
  showNotices();
  at("vee").replaceChildren(drawV(job, cursor));
  at("asked").textContent = bundle.asked.join(", ");
  at("time").textContent = fill(bundle.planned ? words.time : words.timeOnly, { worked: minutes(bundle.time.hands_on_ms), planned: bundle.planned });
  at("worker").textContent = bundle.status.worker ? fill(words.worker, { name: bundle.status.worker }) : "";
  at("ledger").replaceChildren(ledgerStrip(job, words));
  if (!cursor || (job.isAllDone && bundle.all_done) || bundle.status.outcome) showEnd();
  else showStep();
  at("all").replaceChildren(allSteps(job, cursor, words, { onChoose: choose, onUpTo: told.mayWrite ? upTo : null }));
  showButtons();
  lookAgain();
  document.body.dataset.ready = "1";
}

function showStep() {
  const power = powerSign(job.power(cursor), words);
  at("power").replaceChildren(...(power ? [power] : []));
  at("stage").replaceChildren(stageView(job, cursor, words, { byStep: wanted.byStep, onChoose: choose }));
  if (isReading) read(cursor);
  const picture = draw(job.bundle.drawing, cursor, words);
  at("drawing").replaceChildren(...(picture ? [picture] : [el("p", { class: "hint" }, words.noDrawing)]));
  if (!hasMoved && !(phone.matches && !at("notices").childElementCount && hidesHazard())) return;
  if (phone.matches) (power ? at("power") : at("stage")).scrollIntoView({ block: "start" });
  else if (narrow.matches) at("drawing").scrollIntoView({ block: "start" });
  else at("stage").querySelector(".step.now")?.scrollIntoView({ block: "nearest" });
  if (isReading) read(cursor);
}

/* Whether a hazard of the step lies below the buttons, where nobody sees it before the tap. */
function hidesHazard() {
  const hazards = [...at("stage").querySelectorAll(".stage-head ~ .hazard, .step.now .hazard")];
  const end = document.querySelector(".thumbs").getBoundingClientRect().top;
  return hazards.some((hazard) => hazard.getBoundingClientRect().bottom > end);
}

function showEnd() {
  const hasEnded = Boolean(job.bundle.status.outcome);
  const link = hasEnded ? [`/units/${told.unit}/record/`, words.record] : [`/runs/${run}/prove/`, words.prove];
  at("power").replaceChildren();
  at("drawing").replaceChildren();
  at("stage").replaceChildren(
    el("div", { class: "stage" },
      el("h2", {}, hasEnded ? words.ended : words.allDone),
      hasEnded ? null : el("p", {}, words.allDoneText),
      el("p", {}, el("a", { class: "button main", href: link[0] }, link[1])),
    ),
  );
}

function notice(text, ...rest) {
  return el("div", { class: "notice-line" }, el("p", {}, text), ...rest);
}

function showNotices() {
  const { bundle } = job;
  const { status } = bundle;
  const found = [];
  if (split.length) found.push(notice(words.split, el("a", { class: "button", href: `/runs/${run}/histories/` }, words.bothHistories)));
  if (status.parked) found.push(notice(fill(status.waiting_for ? words.parked : words.parkedOnly, { place: status.place || "–", what: status.waiting_for }), el("a", { class: "button", href: `/runs/${run}/park/` }, words.goOn)));
  else if (status.paused) found.push(notice(words.paused, told.mayWrite ? el("button", { type: "button", onclick: () => happen([{ event: "resumed" }], { follow: true }) }, words.resume) : null));
  for (const text of bundle.notes) found.push(notice(text));
  if (bundle.waiting.length) found.push(notice(fill(words.waitsFor, { what: bundle.waiting.join(", ") })));
  if (bundle.found.length) found.push(notice(words.foundOtherwise, el("ul", {}, bundle.found.map((text) => el("li", {}, text)))));
  if (!job.items.some((item) => job.isDone(item))) {
    found.push(...bundle.bare.map(caution));
    if (bundle.losses.length) found.push(notice(fill(words.losses, { what: bundle.losses.join(", ") })));
  }
  at("notices").replaceChildren(...found);
}

function showStatus(state) {
  const said = [];
  if (state.refused) said.push(fill(words.refused, { why: state.refused.replace(/[^.!?]$/, "$&.") }));
  if (state.unsent) {
    const text = state.unsent === 1 ? words.unsentOne : fill(words.unsentMany, { count: state.unsent });
    const why = { offline: words.offline, signedOut: words.signedOut, troubled: words.troubled }[state.network];
    said.push(why ? `${text}: ${why}` : text);
  } else if (state.network === "signedOut") said.push(words.signedOutNow);
  else if (state.network === "offline" || !navigator.onLine) said.push(words.offlineNow);
  else said.push(words.allSent);
  if (state.photos) said.push(state.photos === 1 ? words.photoWaits : fill(words.photosWait, { count: state.photos }));
  const text = said.join(" ");
  if (at("status").textContent !== text) at("status").textContent = text;
  at("status").dataset.unsent = state.unsent;
}

function blocked() {
  const { status } = job.bundle;
  return !told.mayWrite || status.outcome || status.parked || status.paused || split.length > 0;
}

function showButtons() {
  const next = at("next");
  const taps = cursor ? job.nextTaps(cursor, wanted.byStep) : [];
  const words1 = taps.length === 1 ? taps[0].tap.text : fill(words.doneSteps, { count: taps.length });
  const tap = taps.length === 1 ? taps[0].tap : null;
  const below = blocked() ? 0 : notSeen(taps).length;
  next.replaceChildren(el("span", {}, below ? fill(words.readFirst, { count: below }) : taps.length ? words1 : job.isAllDone ? words.allDone : words.next));
  next.dataset.below = below;
  next.disabled = taps.length > 0 && blocked();
  at("otherwise").hidden = !tap?.otherwise;
  at("otherwise").textContent = tap?.otherwise?.[0] ?? "";
  at("otherwise").disabled = blocked();
  at("wrong").disabled = blocked() || !cursor;
  at("note").disabled = !told.mayWrite;
  at("more").disabled = !told.mayWrite || Boolean(job.bundle.status.outcome);
  const index = job.items.indexOf(cursor);
  at("back").disabled = index <= 0;
  at("all-button").setAttribute("aria-expanded", String(showsAll));
  at("all").hidden = !showsAll;
}

/* What has to be read before these are confirmed and was not in sight yet. */
function notSeen(taps) {
  return seen.rest([...new Set(taps.map(({ item }) => item))]);
}

function lookAgain() {
  if (!job) return;
  seen.look();
  const below = cursor && !blocked() ? notSeen(job.nextTaps(cursor, wanted.byStep)).length : 0;
  if (Number(at("next").dataset.below) !== below) showButtons();
}

function announce() {
  if (cursor) at("live").textContent = [cursor.verb, cursor.name, cursor.count].filter(Boolean).join(", ");
}

/* --- moving and tapping ----------------------------------------------------------------------------------- */

function choose(item) {
  hasMoved = true;
  cursor = item;
  // What had the focus is drawn anew: it goes to the step that was chosen.
  const wasInside = at("stage").contains(document.activeElement) || at("all").contains(document.activeElement);
  show();
  if (wasInside) at("stage").querySelector(".step.now .step-name")?.focus();
  announce();
}

function step(by) {
  const index = job.items.indexOf(cursor) + by;
  if (job.items[index]) choose(job.items[index]);
}

/* After something was done: the first open step of this stage, else the next open one. */
function moveOn() {
  hasMoved = true;
  const stage = cursor && job.stageOf.get(cursor.id);
  const index = job.items.indexOf(cursor);
  const open = (item) => !job.isDone(item);
  cursor = stage?.items.find(open) ?? job.items.slice(Math.max(0, index)).find(open) ?? job.items.find(open) ?? cursor;
}

/* What was tapped this moment counts as not sent, before anything else is done with it. */
function countIn(count) {
  sender.say({ unsent: sender.state.unsent + count });
}

/* Kept on this machine; other windows of this browser are told. */
async function store(events, about) {
  await keep(run, events, about);
  windows?.postMessage("kept");
}

async function happen(events, { tap = null, follow = false } = {}) {
  countIn(events.length);
  await store(events, { tap, follow });
  await refresh();
  sender.start();
  if (follow) show();
}

/* One press at a time: while one is being kept, a second one (a finger that trembles) does nothing. */
async function next() {
  if (isBusy || !job || !cursor) return;
  isBusy = true;
  at("next").setAttribute("aria-disabled", "true");
  try {
    await confirmNext();
  } finally {
    isBusy = false;
    at("next").removeAttribute("aria-disabled");
  }
}

async function confirmNext() {
  const taps = job.nextTaps(cursor, wanted.byStep);
  if (!taps.length) {
    const open = job.items.slice(job.items.indexOf(cursor)).find((item) => !job.isDone(item));
    if (open) choose(open);
    else step(1);
    return;
  }
  if (blocked()) return;
  const rest = notSeen(taps);
  if (rest.length) {
    hasMoved = true;
    seen.bring(rest);
    showButtons();
    at("live").textContent = rest[0].textContent;
    return;
  }
  for (const each of taps) {
    const events = await eventsOf(each);
    if (!events) break;
    countIn(events.length);
    await store(events, { tap: tapKey(each.item, each.index) });
  }
  await refresh();
  moveOn();
  show();
  announce();
  const tells = taps.some(({ tap }) => tap.kind === "exchange" || tap.kind === "prove");
  if (job.isAllDone && !job.bundle.all_done) sender.start().then(load);
  else if (tells) sender.start().then(() => fault.follow());
  else sender.start();
}

/* What happened with a tap, with what it asks for filled in; null when it was not confirmed after all. */
async function eventsOf({ item, tap }) {
  let [first, ...rest] = tap.events;
  if (Object.keys(tap.fields).length) {
    const values = await askFields(tap);
    if (!values) return null;
    const { note, ...others } = values;
    first = { ...first, ...others };
    if (note) rest = [...rest, { event: "noted", text: `${tap.text} ${note}` }];
  }
  const short = first.event === "closed" ? job.shortOf(item) : 0;
  if (short) {
    const how = await askShort(item, short);
    if (!how) return null;
    first = { ...first, ...how };
  }
  const worn = first.event === "closed" && !short ? job.wornOf(item) : 0;
  if (worn) {
    const isNew = await askWorn(item, worn);
    if (isNew === null) return null;
    if (isNew) {
      first = { ...first, new: worn };
      rest = [...rest, { event: "scrapped", joint: item.joint, count: worn, reason: words.wornOut }];
    }
  }
  return [first, ...rest];
}

function askWorn(item, count) {
  return ask(fill(words.worn, { count, name: item.name }), (shut) => el("div", { class: "ask-body choices" },
    el("button", { type: "button", onclick: () => shut(true) }, fill(words.wornNew, { count })),
    el("button", { type: "button", onclick: () => shut(false) }, words.wornBack)), words);
}

function askFields(tap) {
  return ask(tap.text, (shut) => {
    const inputs = Object.entries(tap.fields).map(([key, label]) => {
      const isNumber = key === "value";
      return [key, label, el("input", { name: key, maxlength: 200, autocomplete: "off", type: isNumber ? "number" : "text", step: isNumber ? "any" : null, required: isNumber })];
    });
    return el("form", { class: "ask-body", onsubmit: (event) => {
      event.preventDefault();
      const filled = inputs.filter(([, , input]) => input.value.trim());
      shut(Object.fromEntries(filled.map(([key, , input]) => [key, key === "value" ? Number(input.value) : input.value.trim()])));
    } }, inputs.map(([, label, input]) => el("label", {}, label, input)), el("button", { class: "main" }, words.confirm));
  }, words);
}

function askShort(item, short) {
  return ask(fill(words.short, { count: short, name: item.name }), (shut) => el("div", { class: "ask-body choices" },
    el("button", { type: "button", onclick: () => shut({ new: short }) }, fill(words.shortNew, { count: short })),
    el("button", { type: "button", onclick: () => shut({ left_empty: short }) }, fill(words.shortEmpty, { count: short }))), words);
}

async function otherwise() {
  const [only] = job.nextTaps(cursor, wanted.byStep);
  if (!only?.tap.otherwise || blocked()) return;
  let [, events] = only.tap.otherwise;
  if (Object.keys(only.tap.fields).length) {
    const values = await askFields(only.tap);
    if (!values) return;
    events = [{ ...events[0], ...values }, ...events.slice(1)];
  }
  if (events[0].event === "closed") {
    const rest = notSeen([only]);
    if (rest.length) {
      seen.bring(rest);
      showButtons();
      return;
    }
  }
  // A joint that came closed is closed; a check that fails is not passed.
  const tap = events[0].event === "closed" ? tapKey(only.item, only.index) : null;
  await happen(events, { tap, follow: true });
}

/* "All done up to here": what is counted and guarded on the way is named, and confirmed one by one. */
async function upTo(item) {
  const taps = job.upTo(item);
  const alone = taps.filter(({ tap }) => tap.kind !== "do" && tap.kind !== "act");
  const asks = taps.some(({ tap }) => tap.kind === "exchange" || tap.kind === "prove" || tap.kind === "power");
  if (asks) {
    await ask(words.upTo, () => el("div", { class: "ask-body" }, el("p", {}, words.upToStops)), words);
    return;
  }
  // Hazards of all steps on the way stand here: nothing is confirmed that nobody could read.
  const onTheWay = taps.flatMap(({ item: each, tap }) => [...each.cautions, ...tap.cautions]);
  const hazards = [...new Map(onTheWay.map((each) => [each.text, each])).values()];
  const yes = await ask(fill(words.upToName, { name: item.name }), (shut) => {
    const boxes = alone.map(({ tap, item: each }) => [el("input", { type: "checkbox", required: true }), `${each.name}: ${tap.text}`]);
    return el("form", { class: "ask-body", onsubmit: (event) => {
      event.preventDefault();
      shut(true);
    } }, hazards.map(caution), el("p", {}, fill(words.upToCount, { count: taps.length })), boxes.map(([box, text]) => el("label", { class: "check" }, box, ` ${text}`)), el("button", { class: "main" }, words.confirm));
  }, words);
  if (!yes) return;
  for (const each of taps) {
    const events = await eventsOf(each);
    if (!events) break;
    countIn(events.length);
    await store(events, { tap: tapKey(each.item, each.index) });
  }
  await refresh();
  moveOn();
  showsAll = false;
  show();
  announce();
  sender.start();
}

async function wrong() {
  const events = await whatWentWrong(job, cursor, words);
  if (!events) return;
  await happen(events, { follow: true });
  at("live").textContent = words.follows;
}

async function note() {
  const said = await noteAt(cursor, words);
  if (said?.events) await happen(said.events);
  if (said?.photo) {
    await keepPhoto(run, { file: said.photo, about: said.about });
    sender.start();
  }
  if (said) at("live").textContent = words.noted;
}

async function somethingElse() {
  const isLocal = job.local.at(-1);
  if (isLocal) {
    const batch = job.local.filter((event) => event.at === isLocal.at);
    job.bundle.last = [{ id: isLocal.id, text: cursorText(isLocal), batch: batch.map((event) => event.id) }, ...job.bundle.last.filter((each) => !each.batch)];
  }
  const what = await more(job, words, { isReading, canRead, byStep: wanted.byStep });
  if (!what) return;
  if ("view" in what) wanted.byStep = what.view;
  if ("read" in what) {
    isReading = what.read;
    if (!isReading) hush();
  }
  if (what.events) {
    const back = what.events[0].event === "taken_back" && job.bundle.last.find((each) => each.id === what.events[0].about)?.batch;
    const events = back ? back.map((about) => ({ event: "taken_back", about })).reverse() : what.events;
    startsAnew = events[0].event === "taken_back";
    await happen(events, { follow: true });
  }
  show();
}

function cursorText(event) {
  const item = job.items.find((each) => event.tap?.startsWith(`${each.id}#`));
  return item ? [item.verb, item.name].filter(Boolean).join(": ") : event.body.event.replaceAll("_", " ");
}

/* --- keys ------------------------------------------------------------------------------------------------- */

const KEYS = { PageDown: next, ArrowRight: next, PageUp: () => step(-1), ArrowLeft: () => step(-1) };

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest?.("input, textarea, select, dialog")) return;
  const action = KEYS[event.key];
  if (!action) return;
  event.preventDefault();
  // A pedal that is held down, or a finger that trembles, is one press.
  if (event.repeat || event.timeStamp - lastPress < BEFORE_PRESSES_MS) return;
  lastPress = event.timeStamp;
  action();
});

at("next").addEventListener("click", next);
at("back").addEventListener("click", () => step(-1));
at("otherwise").addEventListener("click", otherwise);
at("wrong").addEventListener("click", wrong);
at("note").addEventListener("click", note);
at("more").addEventListener("click", somethingElse);
at("all-button").addEventListener("click", () => {
  showsAll = !showsAll;
  showButtons();
  if (showsAll) at("all").scrollIntoView({ block: "nearest" });
});

addEventListener("scroll", () => requestAnimationFrame(lookAgain), { passive: true });
addEventListener("resize", () => requestAnimationFrame(lookAgain), { passive: true });

/* --- the network, other screens, other windows -------------------------------------------------------------- */

async function poll() {
  if (document.hidden || !job) return;
  try {
    const answer = await fetch(`/runs/${run}/version.json`, { redirect: "manual" });
    if (answer.type === "opaqueredirect" || answer.status === 403) {
      sender.say({ network: "signedOut" });
      return;
    }
    if (!answer.ok) return;
    if (sender.state.network === "signedOut" || sender.state.network === "offline") sender.start();
    const { version, split: now } = await answer.json();
    const sent = Math.max(job.bundle.version, ...job.local.map((event) => event.sent));
    if (version > sent || now.length !== split.length) await load();
  } catch {
    sender.say({ network: "offline" });
  }
}

/* The first time a page is opened nobody keeps it yet: then it is fetched once more, to be kept. */
async function keepThisPage() {
  await navigator.serviceWorker.ready;
  const pages = await caches.open("work-pages");
  if (!(await pages.match(location.pathname))) await pages.add(location.pathname);
  document.body.dataset.offline = "ready";
}

if ("serviceWorker" in navigator && isSecureContext) {
  navigator.serviceWorker.register("/service-worker.js").then(keepThisPage).catch(() => {});
} else at("lacking").hidden = false;

addEventListener("offline", () => showStatus({ ...sender.state, network: "offline" }));
setInterval(poll, POLL_MS);

/* A tablet beside the machine must not fall asleep between two steps. */
async function stayAwake() {
  if (!document.hidden) await navigator.wakeLock?.request("screen").catch(() => {});
}
document.addEventListener("visibilitychange", stayAwake);
stayAwake();
document.addEventListener("visibilitychange", poll);
// A page that the browser had put aside shows the job as it was then.
addEventListener("pageshow", (event) => {
  if (event.persisted) load();
});

await sender.start();
await load();
