// Countdowns: the server's time decides, whatever the clock of this machine shows. The words are those of the server.
const two = (number) => String(number).padStart(2, "0");
const lasting = (seconds) => {
  const [second, minutes] = [seconds % 60, Math.floor(seconds / 60)];
  const [minute, hours] = [minutes % 60, Math.floor(minutes / 60)];
  const [hour, days] = [hours % 24, Math.floor(hours / 24)];
  if (!minutes) return `${second} s`;
  if (!hours) return `${minute} min ${two(second)} s`;
  return `${days ? `${days} d ` : ""}${hour} h ${two(minute)} min ${two(second)} s`;
};
const leftWords = (left) => {
  if (left > 0) return `${lasting(left)} left`;
  return left ? `It is time, ${lasting(-left)} over` : "It is time";
};
const places = () => [...document.querySelectorAll("[data-watch]")];
const put = (place, words) => { if (place && place.textContent !== words) place.textContent = words; };

let ahead = 0; // of this machine's clock
let ticking;
let lock;
const said = new Set();
const leftOf = (place) => {
  const ran = Math.max(0, Math.floor((Date.now() + ahead - Number(place.dataset.start)) / 1000));
  return [ran, Number(place.dataset.planned) - ran];
};
const nameOf = (place) => `${place.dataset.watch} ${place.dataset.planned}`;
const show = () => {
  const all = places();
  if (!all.length) {
    clearInterval(ticking);
    if (lock) lock.release();
    return;
  }
  for (const place of all) {
    const [ran, left] = leftOf(place);
    put(place.querySelector("[data-left]"), leftWords(left));
    put(place.querySelector("[data-ran]"), lasting(ran));
    if (place.dataset.title && !document.querySelector(".put-right")) document.title = `${leftWords(left)}: ${place.dataset.title}`;
    if (left > 0 || said.has(nameOf(place))) continue;
    said.add(nameOf(place));
    document.getElementById("said").textContent = place.dataset.due;
    for (const due of place.querySelectorAll("[data-at-time]")) due.hidden = false;
  }
};

// The screen stays on while the page of one watch is looked at, where the browser offers that.
const stayAwake = async () => {
  const place = document.querySelector("[data-awake]");
  if (!place || !navigator.wakeLock || document.visibilityState !== "visible" || (lock && !lock.released)) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    place.hidden = false;
    lock.addEventListener("release", () => { place.hidden = true; });
  } catch { /* low battery, or not allowed here: the clock runs on the server all the same */ }
};
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") { show(); stayAwake(); } });
// How long ago the button was pressed first, where a sending got lost and is tried again.
document.addEventListener("submit", (event) => {
  const pressed = event.target.querySelector("[data-pressed]");
  if (!pressed) return;
  pressed.dataset.first = pressed.dataset.first || Date.now();
  pressed.value = Math.max(0, Date.now() - Number(pressed.dataset.first));
}, true);

export const arrive = () => {
  const fresh = places().filter((place) => !place.dataset.counts);
  if (!fresh.length) return;
  ahead = Number(fresh[0].dataset.now) - Date.now();
  for (const place of fresh) {
    place.dataset.counts = "1";
    if (leftOf(place)[1] <= 0) said.add(nameOf(place)); // the page says so itself
  }
  clearInterval(ticking);
  ticking = setInterval(show, 1000);
  show();
  stayAwake();
};
