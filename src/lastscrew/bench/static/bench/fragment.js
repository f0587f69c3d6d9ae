/* Sets a piece of a page where it belongs, once it is there: working it out may take some seconds, and the page is
   shown without it meanwhile. Without this script a link leads to the same. */
const EVERY_MS = 1_000;
const MOST = 30;

async function bring(place, left) {
  const answer = await fetch(place.dataset.fragment, { headers: { Accept: "text/html" } }).catch(() => null);
  // Without the network, or where there is nothing, the page stays as it is.
  if (answer?.status === 202 && left) setTimeout(bring, EVERY_MS, place, left - 1);
  if (answer?.status !== 200) return;
  const piece = new DOMParser().parseFromString(await answer.text(), "text/html");
  place.append(...piece.body.childNodes);
}

for (const place of document.querySelectorAll("[data-fragment]")) bring(place, MOST);
