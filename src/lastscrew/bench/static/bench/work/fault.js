/* The search for the fault beside the work, in few words: what is proposed next, its outcome in two taps, and whatever
   else was done. It follows the work: what was exchanged or tried here counts there. */
const EVERY_MS = 1_000;
const MOST = 30;

export class FaultBox {
  constructor(place, words) {
    this.place = place;
    this.words = words;
    this.asked = 0;
    place.addEventListener("submit", (event) => this.#tell(event));
  }

  /* Ask anew: something has happened that the search should know. */
  async follow(left = MOST) {
    const mine = ++this.asked;
    let answer;
    try {
      answer = await fetch(this.place.dataset.from, { headers: { Accept: "text/html" } });
    } catch {
      return; // without the network what is shown stays
    }
    if (mine !== this.asked) return;
    if (answer.status === 202 && left) {
      if (!this.place.querySelector(".fault-waits")) this.#say(this.words.faultWaits);
      setTimeout(() => mine === this.asked && this.follow(left - 1), EVERY_MS);
      return;
    }
    if (answer.status !== 200) {
      this.place.replaceChildren();
      return;
    }
    const isOpen = Boolean(this.place.querySelector("details.fault-box[open]"));
    const piece = new DOMParser().parseFromString(await answer.text(), "text/html");
    this.place.replaceChildren(...piece.body.childNodes);
    const box = this.place.querySelector("details.fault-box");
    if (box && isOpen) box.open = true;
  }

  #say(text) {
    const said = document.createElement("p");
    said.className = "fault-waits hint";
    said.textContent = text;
    this.place.querySelector(".fault-waits")?.remove();
    this.place.append(said);
  }

  /* An outcome is told without leaving the work. What could not be told is said, and nothing is lost: it is still here. */
  async #tell(event) {
    event.preventDefault();
    const form = event.target;
    const buttons = [...this.place.querySelectorAll("button")];
    const body = new FormData(form, event.submitter);
    for (const button of buttons) button.disabled = true;
    try {
      const answer = await fetch(form.action, { method: "POST", body, redirect: "manual" });
      if (answer.type === "opaqueredirect") {
        await this.follow();
        return;
      }
      this.#say(answer.status === 422 ? this.words.faultRefused : this.words.faultNotKept);
    } catch {
      this.#say(this.words.faultNotKept);
    }
    for (const button of buttons) button.disabled = false;
  }
}
