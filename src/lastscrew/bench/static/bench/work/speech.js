import { SIGNALS } from "./elements.js";

/* Read-aloud by the browser's own voice, where it has one on this machine. */
export const canRead = "speechSynthesis" in window && "SpeechSynthesisUtterance" in window;

export function hush() {
  if (canRead) speechSynthesis.cancel();
}

export function read(item) {
  if (!canRead || !item) return;
  hush();
  const said = [
    ...item.cautions.map(({ signal, text }) => `${SIGNALS[signal]}. ${text}`),
    item.verb,
    item.name,
    item.count,
    item.compartment ?? "",
    ...item.lines.map((line) => line.text),
    ...item.after.map((line) => line.text),
  ].filter(Boolean).join(". ");
  const utterance = new SpeechSynthesisUtterance(said);
  utterance.lang = document.documentElement.lang;
  // A voice that is not on this machine would send the text elsewhere.
  const voices = speechSynthesis.getVoices().filter((voice) => voice.localService);
  utterance.voice = voices.find((voice) => voice.lang.startsWith(utterance.lang)) ?? voices[0] ?? null;
  if (utterance.voice) speechSynthesis.speak(utterance);
}
