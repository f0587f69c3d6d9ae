/* Reading a label with the camera, where the browser can: a dialog with the picture, closed by the first code. */
export const canScan = "BarcodeDetector" in window && Boolean(navigator.mediaDevices?.getUserMedia) && window.isSecureContext;

/* Opens the camera and gives the text of the first code that it sees; null when it is closed before. */
export async function scan(words) {
  const detector = new window.BarcodeDetector({ formats: ["qr_code", "code_128", "code_39", "data_matrix"] });
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
