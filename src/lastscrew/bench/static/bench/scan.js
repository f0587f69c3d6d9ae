/* Reading a label with the camera, where the browser can: a dialog with the picture, closed by the first code. */
const FORMATS = ["qr_code", "code_128", "code_39", "data_matrix"];

/* Some browsers have the reader and read nothing with it: ask what it reads. */
export async function formats() {
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia || !window.isSecureContext) return [];
  const known = await window.BarcodeDetector.getSupportedFormats().catch(() => []);
  return FORMATS.filter((format) => known.includes(format));
}

/* Opens the camera and gives the text of the first code that it sees; null when it is closed before. */
export async function scan(words) {
  const detector = new window.BarcodeDetector({ formats: await formats() });
  const dialog = document.createElement("dialog");
  dialog.className = "camera";
  dialog.setAttribute("aria-label", words.title);
  const video = Object.assign(document.createElement("video"), { muted: true, playsInline: true });
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  said.textContent = words.title;
  const close = Object.assign(document.createElement("button"), { type: "button", textContent: words.close });
  close.addEventListener("click", () => dialog.close());
  dialog.append(said, video, close);
  document.body.append(dialog);
  dialog.showModal();
  let stream = null;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    video.srcObject = stream;
    await video.play();
    return await firstCode(detector, video, dialog);
  } catch {
    said.textContent = words.refused;
    await new Promise((done) => dialog.addEventListener("close", done, { once: true }));
    return null;
  } finally {
    stream?.getTracks().forEach((track) => track.stop());
    dialog.remove();
  }
}

async function firstCode(detector, video, dialog) {
  let open = true;
  dialog.addEventListener("close", () => (open = false), { once: true });
  while (open) {
    const codes = await detector.detect(video).catch(() => []);
    const text = codes.find((code) => code.rawValue)?.rawValue;
    if (text) return text;
    await new Promise((done) => setTimeout(done, 150));
  }
  return null;
}
