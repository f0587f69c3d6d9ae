/* What this browser keeps: every tap until it is sent, the job as it was last seen, photos that wait.

   One browser is one screen for a job, also with two windows open: number and key of an event are given in one
   transaction, so that no two windows give the same. */

const NAME = "lastscrew-work";
let opening = null;

function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function done(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });
}

function database() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      const events = request.result.createObjectStore("events", { keyPath: "id" });
      events.createIndex("run", "run");
      request.result.createObjectStore("screens", { keyPath: "run" });
      request.result.createObjectStore("bundles", { keyPath: "run" });
      const photos = request.result.createObjectStore("photos", { keyPath: "id" });
      photos.createIndex("run", "run");
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opening;
}

export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/* Keep what happened, in order; resolves when it is on the disk of this machine. */
export async function keep(run, happened, { tap = null, follow = false } = {}) {
  const base = await database();
  const transaction = base.transaction(["events", "screens"], "readwrite", { durability: "strict" });
  const finished = done(transaction);
  const screens = transaction.objectStore("screens");
  const events = transaction.objectStore("events");
  const screen = (await asked(screens.get(run))) ?? { run, client: newKey(), next: 0, version: 0 };
  const at = new Date().toISOString();
  const made = happened.map((body) => ({
    id: newKey(),
    run,
    client: screen.client,
    sequence: screen.next++,
    base: screen.version,
    at,
    body,
    tap,
    follow,
    sent: 0,
  }));
  for (const event of made) events.put(event);
  screens.put(screen);
  await finished;
  return made;
}

/* Everything that is kept of a job, in order: not sent yet, or sent and not yet in the job as it was seen. */
export async function local(run) {
  const base = await database();
  const found = await asked(base.transaction("events").objectStore("events").index("run").getAll(run));
  return found.sort((one, other) => one.sequence - other.sequence);
}

export async function change(events) {
  const base = await database();
  const transaction = base.transaction("events", "readwrite");
  for (const event of events) transaction.objectStore("events").put(event);
  await done(transaction);
}

/* How many events of the job this screen knows of. */
export async function knows(run, version) {
  const base = await database();
  const transaction = base.transaction("screens", "readwrite");
  const finished = done(transaction);
  const screens = transaction.objectStore("screens");
  const screen = (await asked(screens.get(run))) ?? { run, client: newKey(), next: 0, version: 0 };
  screen.version = Math.max(screen.version, version);
  screens.put(screen);
  await finished;
  return screen;
}

/* The job as the server has it now: what it contains already need not be kept any longer. */
export async function keepBundle(run, bundle) {
  const base = await database();
  const transaction = base.transaction(["bundles", "events"], "readwrite");
  const finished = done(transaction);
  transaction.objectStore("bundles").put({ run, bundle });
  const events = transaction.objectStore("events");
  for (const event of await asked(events.index("run").getAll(run))) {
    if (event.sent && event.sent <= bundle.version) events.delete(event.id);
  }
  await finished;
}

export async function keptBundle(run) {
  const base = await database();
  return (await asked(base.transaction("bundles").objectStore("bundles").get(run)))?.bundle;
}

export async function keepPhoto(run, photo) {
  const base = await database();
  const transaction = base.transaction("photos", "readwrite");
  transaction.objectStore("photos").put({ id: newKey(), run, ...photo });
  await done(transaction);
}

export async function photos(run) {
  const base = await database();
  return asked(base.transaction("photos").objectStore("photos").index("run").getAll(run));
}

export async function dropPhoto(id) {
  const base = await database();
  const transaction = base.transaction("photos", "readwrite");
  transaction.objectStore("photos").delete(id);
  await done(transaction);
}
