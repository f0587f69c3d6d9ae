/* A hand scanner ends what it types with Enter: that leads to the next field instead of sending the form. */
for (const form of document.querySelectorAll("form[data-scanned]")) {
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    const fields = [...form.querySelectorAll("input:not([type=hidden]), select, button")];
    fields[fields.indexOf(event.target) + 1]?.focus();
  });
}
