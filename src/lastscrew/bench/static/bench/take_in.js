/* Taking in: the list of what is wrong gets the focus; photos that were chosen are shown before they are sent. */
document.getElementById("problems")?.focus();

const photos = document.getElementById("photos");
const list = document.getElementById("photo-list");
let shown = [];
photos?.addEventListener("change", () => {
  shown.forEach((url) => URL.revokeObjectURL(url));
  shown = [];
  list.replaceChildren(
    ...[...photos.files].slice(0, 12).map((file) => {
      const item = document.createElement("li");
      const picture = document.createElement("img");
      picture.src = URL.createObjectURL(file);
      picture.alt = file.name;
      shown.push(picture.src);
      item.append(picture);
      return item;
    }),
  );
});
