/* A page on which something is still being worked out: looks again by itself, for a minute at most. */
const EVERY_MS = 700;
const MOST = 90;

for (const place of document.querySelectorAll("[data-looks-again]")) {
  let left = MOST;
  const look = async () => {
    left -= 1;
    const answer = await fetch(place.dataset.looksAgain).catch(() => null);
    if (answer && answer.status !== 202) location.reload();
    else if (left) setTimeout(look, EVERY_MS);
    else for (const late of place.querySelectorAll("[data-late]")) late.hidden = false;
  };
  setTimeout(look, EVERY_MS);
}
