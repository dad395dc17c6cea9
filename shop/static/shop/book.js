// Quicker, not necessary: every page works without this file. What only some fields need lies in files of its own,
// which those fields name: each is fetched where such a field arrives.
"use strict";
const find = (id) => document.getElementById(id);
const say = (words) => { find("said").textContent = words; };
const alarm = (words) => { find("alarm").textContent = words; };
const person = () => find("page").dataset.person || "";
const stored = (form) => `kept ${person()} ${location.pathname} ${form.id}`;
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
  kept = form.dataset.storedAs = stored(form); // offline/waiting.js takes it away
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
  proposeZone();
  for (const part of document.querySelectorAll("[data-part]")) import(part.dataset.part).then((it) => it.arrive(alarm));
};
// The time zone of this machine is proposed where none is chosen yet.
const proposeZone = () => {
  for (const select of document.querySelectorAll("select[data-zone]")) if (!select.value) {
    const here = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
    select.value = /^(UTC|Etc)/.test(here) ? "" : here; // no workshop stands there: a machine that nobody has set
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

document.addEventListener("placed", arrive); // by offline/forms.js
document.addEventListener("signedOut", () => alarm("You are signed out. Load the page and sign in."));
const lost = (event) => { wake(event.detail.elt); if (event.detail.elt.matches("form")) alarm(unsure); };
const on = (name, act) => document.addEventListener(`htmx:${name}`, act);
on("sendError", lost);
on("timeout", lost);
on("responseError", (event) => { if (event.detail.xhr.status >= 500) lost(event); });
on("beforeRequest", (event) => { if (event.detail.elt.matches("form")) alarm(""); });
on("afterSettle", (event) => {
  if (event.target.id !== "page" && event.detail.target.id !== "page") return;
  const turnedAway = event.detail.xhr.status === 403 || document.querySelector("form[data-signs-in]");
  if (kept && person() && !turnedAway) sessionStorage.removeItem(kept);
  arrive();
});

arrive();
