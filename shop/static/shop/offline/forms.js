// A form as a person sees it: what was typed in it, with labels; a kept page put in place; what was typed put back.
const text = (element) => (element ? element.textContent.replace(/\s+/g, " ").trim() : "");
const bare = (label) => {
  const copy = label && label.cloneNode(true);
  for (const more of copy ? copy.querySelectorAll(".optional") : []) more.remove();
  return text(copy);
};

export const headOf = (page) => {
  const back = text(page.querySelector("main h1 + p > a.touch:only-child"));
  return [text(page.querySelector("main h1")), back].filter(Boolean).join(": ");
};

// What was typed: [label, value], by the field it stands in; of a page that reads back, the rows it shows.
export const described = (form) => {
  if (form.elements.read_back) return [...document.querySelectorAll("dl.read-back > div")].map((row) => [text(row.children[0]), text(row.children[1])]);
  const found = new Map();
  for (const one of form.elements) {
    const chosen = one.type === "radio" || one.type === "checkbox";
    if (!one.name || ["hidden", "submit", "button"].includes(one.type) || !one.value || (chosen && !one.checked)) continue;
    const field = one.closest(".field");
    const label = bare(field && field.querySelector(":scope > legend, :scope > label, :scope > summary")) || one.name;
    const value = one.type === "file" ? `${one.files.length} photo${one.files.length === 1 ? "" : "s"}` : chosen && one.labels.length ? text(one.labels[0]) : one.options ? text(one.selectedOptions[0]) : one.value;
    found.set(label, [...(found.get(label) || []), value]);
  }
  return [...found].map(([label, values]) => [label, values.join(" ")]);
};

// Put a page in place of the one that is there, as htmx does it.
export const place = (html, address) => {
  const there = new DOMParser().parseFromString(html, "text/html");
  const page = document.adoptNode(there.getElementById("page"));
  document.getElementById("page").replaceWith(page);
  history.pushState(null, "", address);
  if (there.title) document.title = there.title;
  window.htmx.process(page);
  document.dispatchEvent(new Event("placed"));
  const first = page.querySelector("#put-right") || page.querySelector("#main");
  first.focus();
  scrollTo(0, 0);
};

// Put back what was typed; `filesAlone` where the page holds the rest already.
export const fill = (form, values, filesAlone) => {
  const mine = (name) => values.filter(([one]) => one === name).map(([, value]) => value);
  const used = {};
  for (const one of form.elements) {
    const typed = one.name ? mine(one.name) : [];
    if (one.type === "file") giveFiles(one, typed);
    else if (filesAlone || !one.name || ["hidden", "submit", "button"].includes(one.type)) continue;
    else if (one.type === "radio" || one.type === "checkbox") one.checked = typed.includes(one.value);
    else if (typed.length) one.value = typed[(used[one.name] = (used[one.name] ?? -1) + 1)] ?? "";
  }
};
const giveFiles = (input, files) => {
  const bundle = new DataTransfer();
  for (const file of files) if (file.size) bundle.items.add(file);
  input.files = bundle.files;
  input.dispatchEvent(new Event("change", { bubbles: true }));
};
