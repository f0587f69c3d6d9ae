/* Moments are sent in UTC; here they are shown in the time of the place where they are read. */
for (const time of document.querySelectorAll("time[data-local]")) {
  const at = new Date(time.dateTime);
  if (Number.isNaN(at.getTime())) continue;
  const two = (number) => String(number).padStart(2, "0");
  time.textContent = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
  time.title = `${time.dateTime} UTC`;
}
