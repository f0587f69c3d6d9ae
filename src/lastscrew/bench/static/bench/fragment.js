/* Sets a piece of a page where it belongs, once it is there: working it out may take a second, and the page is shown
   without it meanwhile. Without this script a link leads to the same. */
for (const place of document.querySelectorAll("[data-fragment]")) {
  fetch(place.dataset.fragment, { headers: { Accept: "text/html" } })
    .then((answer) => (answer.status === 200 ? answer.text() : ""))
    .then((text) => {
      if (!text) return;
      const piece = new DOMParser().parseFromString(text, "text/html");
      place.append(...piece.body.childNodes);
    })
    .catch(() => {
      /* Without the network the page stays as it is. */
    });
}
