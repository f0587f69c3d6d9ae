/* Sends what was kept: in order, each once (the server knows an id that it has), again and again until it is
   acknowledged. Nothing is taken from the queue before that. */
import { change, dropPhoto, keep, knows, local, photos } from "./kept.js";

const MOST = 50;
const WAITS_MS = [1_000, 2_000, 5_000, 10_000, 20_000];

function cookie(name) {
  const found = document.cookie.split("; ").find((each) => each.startsWith(`${name}=`));
  return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
}

function asSent(event) {
  const { id, run, client, sequence, base, at, body } = event;
  return { id, run, client, sequence, base, at, ...body };
}

/* "offline", "signedOut", "refused", "stored" … is what the page shows in words. */
export class Sender {
  constructor(run, told) {
    this.run = run;
    this.told = told;
    this.running = null;
    this.again = false;
    this.tries = 0;
    this.state = { unsent: 0, photos: 0, network: "unknown", refused: "", branch: null };
    addEventListener("online", () => this.start());
    addEventListener("offline", () => this.say({ network: "offline" }));
  }

  say(change) {
    Object.assign(this.state, change);
    this.told(this.state);
  }

  /* Send what waits; one sending at a time. */
  start() {
    this.again = true;
    this.running ??= this.#run().finally(() => {
      this.running = null;
    });
    return this.running;
  }

  async #run() {
    while (this.again) {
      this.again = false;
      const outcome = await this.#once();
      if (outcome === "later") {
        const wait = WAITS_MS[Math.min(this.tries++, WAITS_MS.length - 1)];
        clearTimeout(this.timer);
        this.timer = setTimeout(() => this.start(), wait);
        return;
      }
      this.tries = 0;
    }
  }

  async #once() {
    for (;;) {
      const unsent = (await local(this.run)).filter((event) => !event.sent);
      this.say({ unsent: unsent.length, photos: (await photos(this.run)).length });
      if (!unsent.length) return this.#photos();
      // What an earlier screen of this browser left goes by itself: a batch is of one screen.
      const batch = unsent.filter((event) => event.client === unsent[0].client).slice(0, MOST);
      const outcome = await this.#batch(batch);
      if (outcome !== "sent") return outcome;
    }
  }

  async #batch(batch) {
    let answer;
    try {
      answer = await fetch(`/runs/${this.run}/events.json`, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": cookie("lastscrew_csrf") },
        body: JSON.stringify({ client: batch[0].client, events: batch.map(asSent) }),
        redirect: "manual",
      });
    } catch {
      this.say({ network: "offline" });
      return "later";
    }
    if (answer.status === 400) return this.#refused(batch, await answer.json());
    if (!answer.ok) {
      const signedOut = answer.type === "opaqueredirect" || answer.status === 403;
      this.say({ network: signedOut ? "signedOut" : "troubled" });
      return "later";
    }
    const added = await answer.json();
    await change(batch.map((event) => ({ ...event, sent: Math.max(1, added.version) })));
    await knows(this.run, added.version);
    this.say({ network: "online", branch: added.branch ?? this.state.branch });
    if (batch.some((event) => event.follow) || added.branch) this.mustFollow = true;
    return "sent";
  }

  /* One entry that the server can't take must not hold up the others: alone, it is sent as a note that says
     what it was and why it was not taken, under its own number. Nothing is left out. */
  async #refused(batch, answer) {
    if (batch.length > 1) {
      const outcome = await this.#batch(batch.slice(0, 1));
      return outcome;
    }
    const problem = answer.problems?.[0]?.message ?? "";
    const [event] = batch;
    if (event.body.event === "noted" && event.isRefusal) {
      this.say({ network: "troubled", refused: problem });
      return "later";
    }
    const text = `Not taken (${problem}): ${JSON.stringify(event.body)}`.slice(0, 4_000);
    await change([
      { ...event, body: { event: "noted", text }, tap: null, follow: true, isRefusal: true },
    ]);
    this.say({ refused: problem });
    return "sent";
  }

  async #photos() {
    for (const photo of await photos(this.run)) {
      const form = new FormData();
      form.append("photo", photo.file, "photo");
      let answer;
      try {
        answer = await fetch(`/runs/${this.run}/photo.json`, {
          method: "POST",
          headers: { "X-CSRFToken": cookie("lastscrew_csrf") },
          body: form,
          redirect: "manual",
        });
      } catch {
        this.say({ network: "offline" });
        return "later";
      }
      if (answer.status === 400) {
        const problem = (await answer.json()).problems?.[0]?.message ?? "";
        this.say({ refused: problem });
        await dropPhoto(photo.id);
        continue;
      }
      if (!answer.ok) {
        this.say({ network: "troubled" });
        return "later";
      }
      const { sha256 } = await answer.json();
      await keep(this.run, [{ event: "photo", sha256, ...photo.about }]);
      await dropPhoto(photo.id);
      this.again = true;
    }
    // The event that names a photo is sent next: until then not everything is stored.
    if (this.again) return "done";
    this.say({ network: "online", photos: (await photos(this.run)).length });
    if (this.mustFollow) {
      this.mustFollow = false;
      this.say({ follow: true });
      this.state.follow = false;
    }
    return "done";
  }
}
