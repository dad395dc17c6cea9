// The unit follows the scale that is chosen, until a figure is typed or a unit is chosen.
document.addEventListener("change", ({ target }) => {
  if (!target.form || !target.name) return;
  if (target.matches("select.unit")) target.dataset.chosen = "1";
  if (!/(^|-)scale$/.test(target.name)) return;
  const unit = (target.selectedOptions ? target.selectedOptions[0] : target).dataset.unit;
  for (const place of target.form.querySelectorAll("[data-scale]")) {
    const name = place.dataset.scale;
    const [typed, choice] = ["", "_unit"].map((end) => target.form.elements[name + end]);
    if (!unit || !choice || !name.startsWith(target.name.slice(0, -5))) continue;
    if (!typed.value && !choice.dataset.chosen) choice.value = unit;
  }
});
