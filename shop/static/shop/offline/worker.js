// The worker: what opens while the net is away. SHELL, put ahead of this by the server, names the files of every page.
//
// Pages are kept only where the server says so (Tarebook-Keep), for the one person whom its last answer named
// (Tarebook-Person): an answer that names another, or nobody, takes all kept pages away. They are kept half a day.
"use strict";
const SHELL_CACHE = `shell ${SHELL.version}`;
const [AWAY] = SHELL.files;
const PAGES = "pages ";
const HALF_A_DAY_MS = 12 * 3600 * 1000;
const PATIENCE_MS = 6000; // then a page that is kept is shown in place of one that does not come
const NOT_THERE = [502, 503, 504]; // a front server says so of the one behind it

const keepShell = async () => {
  const shell = await caches.open(SHELL_CACHE);
  await shell.addAll(SHELL.files.map((file) => new Request(file, { credentials: "omit", cache: "reload" })));
  await self.skipWaiting();
};
const forget = async (which) => {
  for (const name of await caches.keys()) if (which(name)) await caches.delete(name);
};
const replaceShell = async () => {
  await forget((name) => name !== SHELL_CACHE); // kept pages were made for the files before
  await self.clients.claim();
};

// Keep a page that may be kept; drop one that may not any more, a visit's with all below it.
const remember = async (url, answer) => {
  const person = answer.headers.get("Tarebook-Person");
  if (person === null) return;
  await forget((name) => name.startsWith(PAGES) && name !== PAGES + person);
  if (!answer.ok) return;
  const pages = await caches.open(PAGES + person);
  if (answer.headers.has("Tarebook-Keep")) return pages.put(url, answer);
  await pages.delete(url);
  if (!/\/visits\/\d+\/$/.test(url)) return;
  for (const one of await pages.keys()) if (one.url.startsWith(url)) await pages.delete(one);
};
const look = async (url) => {
  const at = (await caches.keys()).find((name) => name.startsWith(PAGES));
  const kept = at && (await (await caches.open(at)).match(url));
  return kept && Date.now() - Date.parse(kept.headers.get("Date")) < HALF_A_DAY_MS ? kept : undefined;
};
// A visit's next step is asked for by its name, and leads on to the page of that step.
const LEADS_TO = { recovery: "recover/", charge: "charge/", "hand-over": "hand-over/" };
const found = async (url) => {
  const step = new URL(url).searchParams.get("step");
  const there = step && new URL(LEADS_TO[step] || `add/${step}/`, url).href;
  return (await look(url)) || (there && (await look(there)));
};

// Each opening gets a key of its own, so that two entries from one kept page are two.
const marked = async (kept) => {
  const note = `<p class="note kept-from" role="status">From ${kept.headers.get("Tarebook-Keep")}; the net is away. What is entered here is kept on this phone and sent later, once.</p>`;
  const text = (await kept.text())
    .replace(/<div id="page"[^>]*>/, (page) => page + note)
    .replace(/name="key" value="[^"]*"/g, () => `name="key" value="${crypto.randomUUID()}"`);
  return new Response(text, { headers: kept.headers });
};

// The answer of the server; undefined where none comes, or none in time while there is something to show instead.
const answered = (request, instead) => {
  const asked = fetch(request).then((answer) => (NOT_THERE.includes(answer.status) && instead ? undefined : answer), () => undefined);
  return instead ? Promise.race([asked, new Promise((give) => setTimeout(give, PATIENCE_MS))]) : asked;
};
const page = async (event) => {
  const { url } = event.request;
  const kept = await found(url);
  const answer = await answered(event.request, kept);
  if (!answer) return kept ? marked(kept) : caches.match(AWAY);
  event.waitUntil(remember(url, answer.clone()));
  return answer;
};
const file = async (request) => {
  const kept = await caches.match(request, { ignoreSearch: true });
  return (await answered(request, kept)) || kept || Response.error();
};
// Signing out takes the kept pages away, whether the server hears of it or not.
const signOut = async (request) => {
  await forget((name) => name.startsWith(PAGES));
  return fetch(request).catch(() => caches.match(AWAY));
};
// A page that stood open before there was a worker.
const keepOpened = async (url) => {
  const answer = await fetch(url).catch(() => undefined);
  if (answer && !answer.redirected) await remember(url, answer);
};

self.addEventListener("install", (event) => event.waitUntil(keepShell()));
self.addEventListener("activate", (event) => event.waitUntil(replaceShell()));
self.addEventListener("message", (event) => event.data.opened && event.waitUntil(keepOpened(event.data.opened)));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== location.origin) return;
  if (request.method === "GET" && pathname.startsWith("/static/")) event.respondWith(file(request));
  else if (request.mode === "navigate" && request.method === "GET") event.respondWith(page(event));
  else if (request.mode === "navigate" && pathname === "/sign-out/") event.respondWith(signOut(request));
});
