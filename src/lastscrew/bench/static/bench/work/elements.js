/* Elements in a line, and words with values in them. */

export function el(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "class") made.className = value;
    else made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== ""));
  return made;
}

/* "{count} steps" with {count: 3}. */
export function fill(text, values) {
  return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? String(values[key]) : whole));
}

export function json(id) {
  return JSON.parse(document.getElementById(id).textContent);
}

export function minutes(ms) {
  const whole = Math.round(ms / 60_000);
  return whole < 60 ? `${whole} min` : `${Math.floor(whole / 60)} h ${String(whole % 60).padStart(2, "0")}`;
}

/* The signal words as the standard has them in the language of the page. */
export const SIGNALS = {
  danger: "DANGER",
  warning: "WARNING",
  caution: "CAUTION",
  notice: "NOTICE",
  ...(document.getElementById("words") ? json("words").signals : {}),
};

export function caution({ signal, text }) {
  return el("div", { class: `hazard ${signal}`, role: "note" }, el("b", {}, SIGNALS[signal]), el("span", {}, text));
}

/* Marks what has to be read before a step is confirmed. */
export function toSee(place, made) {
  made.dataset.see = `${place} ${made.textContent}`;
  return made;
}

/* Its signal word alone, where the text stands elsewhere on the page. */
export function chip({ signal }) {
  return el("span", { class: `chip hazard ${signal}` }, el("b", {}, SIGNALS[signal]));
}

/* A dialog with a heading; resolves with what was chosen, null when it was shut. */
export function ask(title, body, words) {
  return new Promise((resolve) => {
    let chosen = null;
    const dialog = el("dialog", { class: "ask", "aria-label": title });
    const shut = (value) => {
      chosen = value;
      dialog.close();
    };
    dialog.append(
      el("div", { class: "ask-head" }, el("h2", {}, title), el("button", { type: "button", class: "plain", onclick: () => shut(null) }, words.shut)),
      body(shut),
    );
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(chosen);
    });
    document.body.append(dialog);
    dialog.showModal();
    const usual = dialog.querySelector("[data-first]") ?? dialog.querySelector(".ask-body button, .ask-body input, .ask-body textarea");
    usual?.focus();
  });
}
