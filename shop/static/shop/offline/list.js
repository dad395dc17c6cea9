// The list of what waits, with what the person can do with each; `acts` are open, drop and sendOut.
import { inZone } from "./queue.js";
import { headOf } from "./forms.js";

export const button = (words, act) => Object.assign(document.createElement("button"), { type: "button", textContent: words, onclick: act });
const paragraph = (words) => Object.assign(document.createElement("p"), { textContent: words });
const WORDS = {
  "": "",
  away: "The net is away. What stands here goes out when it is back, oldest first, each once.",
  asks: "The first one has to be looked at; the others wait for it.",
  "signed out": "You are signed out. Nothing is lost: sign in, and it goes out.",
  elsewhere: "It is being sent from another window.",
};
const asked = (entry) => {
  if (!entry.answer) return "";
  const told = new DOMParser().parseFromString(entry.answer, "text/html");
  const wrong = [...told.querySelectorAll("#put-right li")].map((one) => one.textContent).join(" ");
  return wrong ? `Not written: ${wrong}` : `Not written yet: ${headOf(told) || `the server answered with ${entry.status}`}.`;
};
const row = (entry, acts) => {
  const line = document.createElement("li");
  const time = Object.assign(document.createElement("time"), { dateTime: new Date(entry.pressed).toISOString(), textContent: inZone(entry.pressed, entry.zone).slice(0, 16).replace("T", " ") });
  const told = document.createElement("div");
  const what = document.createElement("p");
  what.append(Object.assign(document.createElement("b"), { textContent: entry.what }));
  const list = document.createElement("dl");
  list.className = "figures";
  for (const [label, value] of entry.said) {
    const pair = document.createElement("div");
    pair.append(Object.assign(document.createElement("dt"), { textContent: label }), Object.assign(document.createElement("dd"), { textContent: value }));
    list.append(pair);
  }
  const presses = document.createElement("p");
  presses.className = "acts";
  presses.append(button(entry.answer ? "Look at it" : "Open it to change", () => acts.open(entry.key)), button("Drop it", () => dropping(entry, presses, acts)));
  const wrong = asked(entry);
  told.append(what, ...(wrong ? [paragraph(wrong)] : []), list, presses);
  line.append(time, told);
  return line;
};
const dropping = (entry, presses, acts) => {
  presses.replaceChildren(
    paragraph("What was typed is then gone, and nothing of it is in the book unless a sending before this was cut off."),
    button("Drop it for good", () => acts.drop(entry.key)),
    button("Keep it", () => acts.show()),
  );
  presses.querySelector("button").focus();
};
const others = (entries, signedIn) => {
  const names = [...new Set(entries.map((one) => one.name))].join(", ");
  const whose = signedIn ? ` of ${names}` : "";
  return paragraph(`Not sent yet (${entries.length}), kept on this phone${whose}: sent when ${whose ? names : "who pressed it"} signs in here again, in nobody else’s name.`);
};

// Fill the panel: what was sent just now, what waits of this person, how much waits of others.
export const fillPanel = (panel, { state, written, mine, rest, signedIn }, acts) => {
  const wasOpen = panel.querySelector("details[open]");
  const list = document.createElement("details");
  list.open = Boolean(wasOpen) || mine.some((one) => one.answer);
  list.append(Object.assign(document.createElement("summary"), { textContent: `Not sent yet (${mine.length})` }));
  if (WORDS[state]) list.append(paragraph(WORDS[state]));
  const lines = document.createElement("ol");
  lines.className = "lines";
  lines.append(...mine.map((entry) => row(entry, acts)));
  const presses = document.createElement("p");
  presses.className = "acts";
  presses.append(button("Send now", () => acts.sendOut(true)));
  if (state === "signed out") presses.append(Object.assign(document.createElement("a"), { className: "button", textContent: "Sign in", href: `/sign-in/?next=${encodeURIComponent(location.pathname + location.search)}` }));
  list.append(lines, presses);
  const done = paragraph(`${written} sent and written. `);
  done.append(Object.assign(document.createElement("a"), { className: "touch", href: location.href.split("#")[0], textContent: "Load this page anew" }));
  panel.replaceChildren(...(written ? [done] : []), ...(mine.length ? [list] : []), ...(rest.length ? [others(rest, signedIn)] : []));
  panel.hidden = !panel.children.length;
};
