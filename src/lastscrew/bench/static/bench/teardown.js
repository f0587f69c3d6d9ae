/* A name that is chosen or one that is typed, never both: the later of the two counts, and the page shows which. */
for (const set of document.querySelectorAll(".tap-form fieldset")) {
  const typed = set.querySelector('input:not([type])');
  const chosen = [...set.querySelectorAll('input[type="radio"]')];
  if (!typed || !chosen.length) continue;
  typed.addEventListener("input", () => {
    if (typed.value.trim()) for (const one of chosen) one.checked = false;
  });
  for (const one of chosen) one.addEventListener("change", () => { typed.value = ""; });
}
