// A label scanned by the camera: only where the browser has a detector for codes and opens the camera at all.
const FORMATS = ["qr_code", "code_128", "code_39", "data_matrix", "itf", "ean_13"];
const PAUSE_MS = 200;
const reads = async () => {
  if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia || !("BarcodeDetector" in window)) return [];
  const known = await BarcodeDetector.getSupportedFormats().catch(() => []);
  return known.includes("qr_code") ? FORMATS.filter((format) => known.includes(format)) : [];
};
const made = (name, text = "") => Object.assign(document.createElement(name), { textContent: text });

const open = (place, formats) => {
  const dialog = made("dialog");
  const title = Object.assign(made("h2", "Scan a label"), { id: "scan-title" });
  const video = Object.assign(made("video"), { muted: true, playsInline: true });
  video.setAttribute("aria-label", "What the camera sees");
  const said = made("p", "Hold the label before the camera.");
  said.setAttribute("role", "status");
  const close = Object.assign(made("button", "Close the camera"), { type: "button", onclick: () => dialog.close() });
  dialog.className = "scan";
  dialog.setAttribute("aria-labelledby", title.id);
  dialog.append(title, video, said, close);
  document.body.append(dialog);
  const state = { dialog, video, said, place, detector: new BarcodeDetector({ formats }), last: "" };
  dialog.onclose = () => { video.srcObject?.getTracks().forEach((track) => track.stop()); dialog.remove(); };
  dialog.showModal();
  return state;
};

const watch = async (state) => {
  const { dialog, video, said } = state;
  try {
    const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" }, audio: false });
    if (!dialog.open) return stream.getTracks().forEach((track) => track.stop());
    video.srcObject = stream;
    await video.play();
  } catch (error) {
    if (dialog.open) said.textContent = error.name === "NotAllowedError"
      ? "The camera was refused. Allow it for this page in the browser, or type the code of the label."
      : "No camera answers. Type the code of the label.";
    return;
  }
  while (dialog.open) {
    const seen = await state.detector.detect(video).catch(() => []);
    const text = seen[0]?.rawValue.trim();
    if (text && text !== state.last && dialog.open) {
      state.last = text;
      await take(state, text);
    }
    await new Promise((done) => setTimeout(done, PAUSE_MS));
  }
};

const take = async (state, text) => {
  const { dialog, said, place } = state;
  const asked = new URLSearchParams({ said: text, for: place.dataset.wants || "" });
  let answer;
  try {
    answer = await (await fetch(`${place.dataset.asks}?${asked}`)).json();
  } catch {
    state.last = "";
    said.textContent = `“${text}” was read, and the book does not answer. It is asked again.`;
    return;
  }
  if (!dialog.open) return;
  const put = answer.fill === undefined ? answer.words : fill(place, answer);
  if (!put) return dialog.close();
  said.textContent = `${put} `;
  if (answer.href) said.append(Object.assign(made("a", answer.link), { href: answer.href, className: "button" }));
};

// Returns a sentence where the page has no place for what was read.
const fill = (place, { fill: value, number }) => {
  const { scan, jumps, sends } = place.dataset;
  const field = document.getElementById(jumps ? `${jumps}${number}` : scan);
  if (!field) return `“${value}” has no place on this page.`;
  if (jumps) setTimeout(() => field.focus(), 0); // once the dialog has given the focus back
  else if (field.tagName === "SELECT") {
    if (![...field.options].some((one) => one.value === String(number))) return `“${value}” cannot be chosen here.`;
    field.value = number;
  } else field.value = value;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
  if (sends !== undefined) field.form.requestSubmit();
};

export const arrive = async () => {
  const formats = await reads();
  for (const line of document.querySelectorAll("[data-scan-why]")) {
    line.textContent = formats.length ? line.dataset.can : window.isSecureContext ? line.dataset.noDetector : line.dataset.noHttps;
  }
  if (!formats.length) return;
  for (const place of document.querySelectorAll("[data-scan]:empty")) {
    const button = Object.assign(made("button", "Scan a label"), { type: "button" });
    button.onclick = () => watch(open(place, formats));
    place.append(button);
  }
};
