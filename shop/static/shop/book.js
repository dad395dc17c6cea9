// Quicker, not necessary: every page works without this file, except the scale by wire.
"use strict";
const find = (id) => document.getElementById(id);
const say = (words) => { find("said").textContent = words; };
const alarm = (words) => { find("alarm").textContent = words; };
const stored = (form) => `kept ${location.pathname} ${form.id}`;
const unsure = "Not known to be written. Your figures are here; press again, it cannot count twice.";

// Busy: the pressed button says so and answers no second press; it keeps the focus.
const busy = (form, button) => {
  form.dataset.busy = "1";
  if (!button) return;
  button.dataset.words = button.textContent;
  button.setAttribute("aria-disabled", "true");
  button.textContent = "Writing ...";
};
const wake = (form) => {
  if (!form.dataset) return;
  delete form.dataset.busy;
  for (const button of form.querySelectorAll("[aria-disabled]")) {
    button.removeAttribute("aria-disabled");
    button.textContent = button.dataset.words;
  }
};

let kept;
// Kept text: what was sent lies in this tab under the address until an answer to it comes.
const keep = (form) => {
  if (!form.elements.key) return;
  const values = [...new FormData(form)].filter(([name, value]) => typeof value === "string" && !["csrfmiddlewaretoken", "seen", "read_back"].includes(name));
  kept = stored(form);
  sessionStorage.setItem(kept, JSON.stringify({ key: form.elements.key.value, values }));
};
const putBack = (form) => {
  const text = sessionStorage.getItem(stored(form));
  if (!text || !form.elements.key || form.elements.read_back) return;
  const { key, values } = JSON.parse(text);
  if (key === form.elements.key.value || document.querySelector(".put-right")) return;
  for (const one of form.elements) {
    if (!one.name || ["hidden", "file", "submit"].includes(one.type)) continue;
    const mine = values.filter(([name]) => name === one.name).map(([, value]) => value);
    if (one.type === "radio" || one.type === "checkbox") one.checked = mine.includes(one.value);
    else if (mine.length) one.value = mine[0];
  }
  form.elements.key.value = key;
  alarm("What you typed here is back, not known to be written. Press again: it cannot count twice.");
};
const arrive = () => {
  const page = find("page");
  const note = document.querySelector("[data-said]");
  if (note) say(note.textContent);
  if (find("signed-out")) sessionStorage.clear();
  watchSession(Number(page.dataset.signedIn));
  document.querySelectorAll("form[data-kept]").forEach(putBack);
  offerScale();
  proposeZone();
};
// The time zone of this machine is proposed where none is chosen yet.
const proposeZone = () => {
  for (const select of document.querySelectorAll("select[data-zone]")) if (!select.value) {
    select.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
    if (select.selectedIndex < 0) select.value = "";
  }
};
let ending;
const watchSession = (seconds) => {
  clearTimeout(ending);
  if (seconds > 120) ending = setTimeout(alarm, (seconds - 120) * 1000, "Your session ends in 2 minutes. Send what you have typed, then sign in again.");
};

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.busy) { event.preventDefault(); event.stopImmediatePropagation(); return; }
  if (form.dataset.kept !== undefined) keep(form);
  const button = event.submitter && event.submitter.className !== "enter" ? event.submitter : form.querySelector("button.main");
  setTimeout(() => busy(form, button), 0);
}, true);
addEventListener("pageshow", () => document.querySelectorAll("form").forEach(wake));

document.addEventListener("signedOut", () => alarm("You are signed out. Load the page and sign in."));
const lost = (event) => { wake(event.detail.elt); if (event.detail.elt.matches("form")) alarm(unsure); };
const on = (name, act) => document.addEventListener(`htmx:${name}`, act);
on("sendError", lost);
on("timeout", lost);
on("responseError", (event) => { if (event.detail.xhr.status >= 500) lost(event); });
on("beforeRequest", (event) => { if (event.detail.elt.matches("form")) alarm(""); });
on("afterSettle", (event) => {
  if (event.target.id !== "page" && event.detail.target.id !== "page") return;
  if (kept && find("page").dataset.signedIn) sessionStorage.removeItem(kept);
  arrive();
});

// Photos: those taken one after the other are sent together, each made smaller before it goes.
const LONGEST = 2048;
const smaller = async (file) => {
  if (file.size < 1e6) return file;
  try {
    const image = await createImageBitmap(file);
    const share = Math.min(1, LONGEST / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [Math.round(image.width * share), Math.round(image.height * share)];
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    const drawn = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.92));
    return drawn && drawn.size < file.size ? new File([drawn], file.name.replace(/\.\w+$/, ".jpg"), { type: "image/jpeg" }) : file;
  } catch { return file; } // what this browser cannot draw is judged by the server
};
const gathered = new WeakMap();
const show = (input, files) => {
  const bundle = new DataTransfer();
  files.forEach((file) => bundle.items.add(file));
  input.files = bundle.files;
  gathered.set(input, files);
  const said = input.parentElement.querySelector("output") || input.parentElement.insertBefore(document.createElement("output"), input.nextSibling);
  said.textContent = files.length ? `${files.length} photo${files.length > 1 ? "s" : ""} to be sent ` : "";
  if (!files.length) return;
  const none = document.createElement("button");
  Object.assign(none, { type: "button", textContent: "Leave them out", onclick: () => show(input, []) });
  said.append(none);
};
document.addEventListener("change", async (event) => {
  const input = event.target;
  if (!input.matches("[data-photos]") || !input.files.length) return;
  const before = gathered.get(input) || [];
  const chosen = [...input.files];
  show(input, [...before, ...chosen]);
  const made = await Promise.all(chosen.map(smaller));
  if (input.form && !input.form.dataset.busy && gathered.get(input).length === before.length + chosen.length) show(input, [...before, ...made]);
});

// The scale by wire: Weight Scale Service 0x181D, Weight Measurement 0x2A9D, by indication.
const offerScale = () => {
  if (!navigator.bluetooth) return;
  for (const place of document.querySelectorAll("[data-scale]:empty")) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Take it from the scale";
    button.onclick = () => readScale(place, button).catch((error) => alarm(`The scale did not answer: ${error.message}`));
    place.append(button);
  }
};
const readScale = async (place, button) => {
  const device = await navigator.bluetooth.requestDevice({ filters: [{ services: [0x181d] }] });
  const server = await device.gatt.connect();
  const measured = await (await server.getPrimaryService(0x181d)).getCharacteristic(0x2a9d);
  const same = [];
  measured.addEventListener("characteristicvaluechanged", () => {
    const bytes = measured.value;
    const pounds = bytes.getUint8(0) & 1;
    const steps = bytes.getUint16(1, true);
    const text = pounds ? `${(steps / 100).toFixed(2)} lb` : `${(steps / 200).toFixed(3)} kg`;
    if (same.length && same[0].text !== text) same.length = 0;
    same.push({ text, at: Date.now() });
    button.textContent = `${text} ...`;
    if (same.length < 3 || same[same.length - 1].at - same[0].at < 2000) return;
    device.gatt.disconnect();
    const form = place.closest("form");
    const field = form.elements[place.dataset.scale];
    const raw = form.elements[`${field.name}_raw`] || document.createElement("input");
    Object.assign(raw, { type: "hidden", name: `${field.name}_raw` });
    raw.value = [...new Uint8Array(bytes.buffer)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    form.append(raw);
    field.value = text;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    button.textContent = "Take it from the scale again";
  });
  await measured.startNotifications();
};

arrive();
