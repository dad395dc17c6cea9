// What was pressed and could not be sent: kept on this machine, sent oldest first, one at a time, each exactly once.
//
// An entry keeps its key and its values as they were pressed, so the server knows it again however often it comes. It
// leaves the queue only when the server says that its key stands in the book, or when the person drops it.
//
//   key, person, name       whose it is, and how the page called them
//   address, zone           where it goes; the workshop's time zone
//   what, said              the head of its page; what was typed, with labels
//   values                  all that is sent: [name, text or file]
//   pressed, occurred       when it was pressed, by this machine; that time by the server's clock once it was sent
//   timed                   whether the form left its when to be now
//   page, answer, status    the page it was pressed on; the page that answered it, which the person has to look at

const NOT_THERE = [502, 503, 504];
const LOCK = "tarebook sending";

const opened = () =>
  new Promise((give, refuse) => {
    const asked = indexedDB.open("tarebook", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("waiting", { keyPath: "key" });
    asked.onsuccess = () => give(asked.result);
    asked.onerror = () => refuse(asked.error);
  });
const change = async (mode, act) => {
  const base = await opened();
  try {
    return await new Promise((give, refuse) => {
      const deal = base.transaction("waiting", mode, { durability: "strict" });
      const asked = act(deal.objectStore("waiting"));
      deal.oncomplete = () => give(asked.result);
      deal.onerror = deal.onabort = () => refuse(deal.error);
    });
  } finally {
    base.close();
  }
};
export const put = (entry) => change("readwrite", (waiting) => waiting.put(entry));
export const drop = (key) => change("readwrite", (waiting) => waiting.delete(key));
export const get = (key) => change("readonly", (waiting) => waiting.get(key));
export const all = async () => (await change("readonly", (waiting) => waiting.getAll())).sort((one, other) => one.pressed - other.pressed);

// What the server says: who is signed in, its time, a fresh token, whether a key stands in the book. Null without net.
export const ask = async (key = "") => {
  try {
    const answer = await fetch(`/sending/?key=${key}`, { cache: "no-store", signal: AbortSignal.timeout(20000) });
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
};

// The time of pressing by the server's clock, whatever this machine's clock says, as the workshop's clock showed it.
export const inZone = (moment, zone) => {
  const how = { timeZone: zone || undefined, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit" };
  const part = Object.fromEntries(new Intl.DateTimeFormat("en", how).formatToParts(moment).map(({ type, value }) => [type, value]));
  return `${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}:${part.second}`;
};
const timed = async (entry, now) => {
  if (!entry.timed || entry.occurred) return entry;
  const there = { ...entry, occurred: inZone(now - Math.max(0, Date.now() - entry.pressed), entry.zone) };
  await put(there); // before it goes: sent again, it must be the same
  return there;
};
const bodyOf = (entry, token) => {
  const body = new FormData();
  for (const [name, value] of entry.values) body.append(name, value);
  if (entry.occurred) for (const name of ["occurred_at", "pressed_at"]) body.set(name, entry.occurred);
  body.set("queued", "1"); // no echo could be fetched: what is plain is written without being read back
  body.set("csrfmiddlewaretoken", token);
  return body;
};

// Send one; returns "written", "away", "signed out", or "asks" where the person has to answer.
const sendOne = async (waiting, server) => {
  const entry = await timed(waiting, server.now);
  let answer;
  try {
    answer = await fetch(entry.address, { method: "POST", body: bodyOf(entry, server.token), signal: AbortSignal.timeout(180000) });
  } catch {
    return "away";
  }
  const text = await answer.text().catch(() => "");
  if (NOT_THERE.includes(answer.status)) return "away";
  const then = await ask(entry.key);
  if (!then) return "away";
  if (then.written && answer.status !== 409) {
    await drop(entry.key);
    return "written";
  }
  if (then.person !== entry.person) return "signed out";
  await put({ ...entry, answer: text, status: answer.status });
  return "asks";
};

// Send what waits, in the name of its person alone; `again`: also what was answered before and then left.
const sendAll = async (again, count) => {
  for (let written = 0; ; ) {
    const server = await ask();
    if (!server) return { state: "away", written };
    const entry = (await all()).find((one) => one.person === server.person);
    if (!entry) return { state: server.person ? "" : "signed out", written };
    if (entry.answer && !again) return { state: "asks", written };
    const state = await sendOne(entry, server);
    if (state !== "written") return { state, written };
    written += 1;
    again = false;
    await count();
  }
};
// One window at a time, where the browser can tell; the keys hold it in any. A page that was just left may still hold the
// lock, so this one waits its turn (`waits` says so meanwhile) and then sends what is left.
export const send = async (again = false, count = () => {}, waits = () => {}) => {
  if (!navigator.locks) return sendAll(again, count);
  const mine = () => sendAll(again, count);
  const sent = await navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => lock && mine());
  if (sent) return sent;
  await waits();
  return navigator.locks.request(LOCK, mine);
};
