// "Not sent yet", on every page: a form pressed while the net is away is kept (queue.js), shown, opened again, dropped.
import * as queue from "./queue.js";
import { button, fillPanel } from "./list.js";
import { described, fill, headOf, place } from "./forms.js";

const find = (id) => document.getElementById(id);
const page = () => find("page");
const WHO = "tarebook person"; // of whom this machine has pages, for the page that opens in their place
const LOOK_SOON_MS = 3000;
const LOOK_AGAIN_MS = 30000;
const AWAY = [502, 503, 504];
const pressed = new WeakMap();

// Who looks: whom the page names, else on the page that stands in for others whom this machine has pages of.
const person = () => page().dataset.person || (find("net-away") ? localStorage.getItem(WHO) : "") || "";

// Keeping what was pressed.

const unjudged = (name) => name === "change" || name === "go" || name.endsWith("_more");
const takes = (form) => form.method === "post" && form.elements.key && form.hasAttribute("data-kept") && form.hasAttribute("hx-post");
const snapshot = (form, button) => {
  const values = [...new FormData(form, button && button.name ? button : undefined)];
  const { occurred_at: when } = form.elements;
  return {
    key: form.elements.key.value,
    ...{ person: page().dataset.person, name: page().dataset.name, zone: page().dataset.zone },
    address: form.getAttribute("hx-post"),
    what: headOf(document),
    said: described(form),
    values: values.filter(([name, value]) => name !== "csrfmiddlewaretoken" && !(value instanceof File && !value.size)),
    timed: Boolean(when) && !when.value,
    anew: Boolean(form.elements.pressed_at?.value) && when?.value === "", // the time of before was taken out
    pressed: Date.now(),
    page: page().outerHTML,
  };
};
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!takes(form)) return;
  const button = event.submitter && event.submitter.className !== "enter" ? event.submitter : null;
  pressed.set(form, snapshot(form, button));
}, true);

// An entry that was opened from the list keeps the time at which it was first pressed.
const merged = async (fresh) => {
  const before = await queue.get(fresh.key);
  return before && !fresh.anew ? { ...fresh, pressed: before.pressed, occurred: fresh.timed ? before.occurred : "" } : fresh;
};
const keep = async (form) => {
  const fresh = pressed.get(form);
  const timeless = fresh && !fresh.values.some(([name]) => name === "occurred_at");
  if (!fresh || !fresh.person || timeless || fresh.values.some(([name]) => unjudged(name))) return;
  await queue.put(await merged(fresh));
  sessionStorage.removeItem(form.dataset.storedAs);
  find("alarm").textContent = "";
  stand(form, fresh);
  await show("away");
};
// In place of the form: what became of it, and the ways on.
const stand = (form, entry) => {
  const said = document.createElement("section");
  said.className = "note kept-here";
  said.tabIndex = -1;
  const lead = document.createElement("p");
  lead.textContent = "Kept on this phone, not sent yet. It goes out when the net is back, once, with the time of now.";
  const acts = document.createElement("p");
  acts.className = "acts";
  acts.append(button("Open it to change", () => open(entry.key)));
  const back = form.querySelector("a.quiet");
  if (back) acts.append(Object.assign(back.cloneNode(), { textContent: "Go on" }));
  said.append(lead, acts);
  if (!window.isSecureContext) said.append(Object.assign(document.createElement("p"), { textContent: "This book is not served over https: without net no other page opens on this phone. Leave this one open." }));
  for (const old of document.querySelectorAll("#put-right")) old.remove();
  form.replaceWith(said);
  said.focus();
};

// What came of a form that stands in the list, pressed again from its page.
const settle = async (form, answer) => {
  const fresh = pressed.get(form);
  const entry = fresh && (await queue.get(fresh.key));
  if (!entry) return;
  const then = await queue.ask(fresh.key);
  if (then && then.written && answer.status !== 409) await queue.drop(fresh.key);
  else await queue.put({ ...(await merged(fresh)), page: entry.page, answer: answer.responseText, status: answer.status });
  await sendOut();
};
const on = (name, act) => document.addEventListener(`htmx:${name}`, (event) => event.detail.elt.matches("form") && act(event.detail.elt, event.detail.xhr));
on("sendError", keep);
on("timeout", keep);
on("responseError", (form, answer) => AWAY.includes(answer.status) && keep(form));
on("beforeOnLoad", (form, answer) => !AWAY.includes(answer.status) && settle(form, answer));

// The list.

let last = "";
const show = async (state = last, written = 0) => {
  last = state;
  const who = person();
  const every = await queue.all();
  const mine = every.filter((one) => who && one.person === who);
  const rest = every.filter((one) => !mine.includes(one));
  fillPanel(find("waiting"), { state, written, mine, rest, signedIn: Boolean(page().dataset.person) }, { open, drop, show, sendOut });
  if (written) find("said").textContent = `${written} sent and written.`;
};
const drop = async (key) => {
  await queue.drop(key);
  await sendOut();
};

let written = 0;
const sendOut = async (again = false) => {
  if (!(await queue.all()).length) return show("", written);
  const count = () => show("", ++written);
  const { state } = await queue.send(again, count, () => show("elsewhere", written));
  await show(state, written);
};
const open = async (key) => {
  const entry = await queue.get(key);
  if (!entry) return show();
  place(entry.answer || entry.page, entry.address);
  const form = [...document.forms].find((one) => one.elements.key && (!entry.answer || one.elements.key.value === key));
  if (form) {
    form.elements.key.value = key;
    fill(form, entry.values, Boolean(entry.answer));
  }
  const server = await queue.ask();
  for (const token of document.querySelectorAll("[name=csrfmiddlewaretoken]")) if (server) token.value = server.token;
};

// Arriving.

const keptPages = async () => {
  const list = find("kept-pages");
  if (!list || !window.caches) return;
  for (const name of (await caches.keys()).filter((one) => one.startsWith("pages ")))
    for (const { url } of await (await caches.open(name)).keys()) {
      const head = new DOMParser().parseFromString(await (await (await caches.open(name)).match(url)).text(), "text/html");
      const item = document.createElement("li");
      item.append(Object.assign(document.createElement("a"), { className: "touch", href: url, textContent: headOf(head) }));
      list.querySelector("ul").append(item);
      list.hidden = false;
    }
};
const leave = async () => {
  localStorage.removeItem(WHO);
  for (const name of window.caches ? await caches.keys() : []) if (name.startsWith("pages ")) await caches.delete(name);
};
const arrive = async () => {
  const { person: here } = page().dataset;
  if (here) localStorage.setItem(WHO, here);
  else if (!find("net-away")) await leave();
  if (navigator.serviceWorker) {
    await navigator.serviceWorker.register("/worker.js");
    const { active } = await navigator.serviceWorker.ready;
    if (here && !navigator.serviceWorker.controller) active.postMessage({ opened: location.href });
  }
};
addEventListener("online", () => sendOut());
// Soon at first, for an answer that one moment held up; then now and then, for a net that is long away.
const lookAgain = (after) =>
  setTimeout(async () => {
    if (last === "away" && document.visibilityState === "visible") await sendOut().catch(() => {});
    lookAgain(last === "away" ? Math.min(2 * after, LOOK_AGAIN_MS) : LOOK_SOON_MS);
  }, after);
lookAgain(LOOK_SOON_MS);
await show().catch(() => {});
await keptPages();
await sendOut().catch(() => {});
await arrive().catch(() => {});
