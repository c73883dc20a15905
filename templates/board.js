{
  const now = new Date();
  const today = [now.getFullYear(), String(now.getMonth() + 1).padStart(2, "0"), String(now.getDate()).padStart(2, "0")].join("-");
  const weeks = [...document.querySelectorAll("details.week")];
  const current = weeks.find((week) => week.dataset.last >= today) || weeks[weeks.length - 1];
  weeks.forEach((week) => { week.open = week === current; });
  if (current.dataset.first <= today && today <= current.dataset.last) {
    const label = document.createElement("span");
    label.className = "now";
    label.textContent = ", this week";
    current.querySelector("summary h2").append(label);
  }
  const column = Math.round((Date.parse(today) - Date.parse(current.dataset.first)) / 86400000) + 1;
  if (column > 0) {
    current.querySelector(".squad th:nth-child(" + (column + 1) + ")")?.setAttribute("aria-current", "date");
    current.querySelectorAll(".squad td:nth-child(" + (column + 1) + ")").forEach((cell) => cell.classList.add("today"));
  }
  if (current !== weeks[0]) weeks[0].before(current);
  const box = document.querySelector(".filter");
  const place = () => {
    const table = (weeks.find((week) => week.open) || current).querySelector(".wide");
    if (table && table.previousElementSibling !== box) table.before(box);
  };
  place();
  weeks.forEach((week) => week.addEventListener("toggle", place));
  const filter = document.getElementById("filter");
  const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  filter.addEventListener("input", () => {
    const part = plain(filter.value.trim());
    document.querySelectorAll("[data-name]").forEach((row) => { row.hidden = !plain(row.dataset.name).includes(part); });
  });
  const sort = document.getElementById("sort");
  const order = {
    name: (a, b) => a.dataset.name.localeCompare(b.dataset.name),
    group: (a, b) => (a.dataset.group || 99) - (b.dataset.group || 99) || order.name(a, b),
    minutes: (a, b) => a.dataset.minutes - b.dataset.minutes || order.name(a, b),
  };
  sort.addEventListener("change", () => {
    document.querySelectorAll(".squad tbody").forEach((body) => { body.append(...[...body.rows].sort(order[sort.value])); });
  });
  const shown = (cell) => cell.innerText.replace(/\s+/g, " ").trim();
  const safe = (text) => `"${(/^[=+\-@\t\r]/.test(text) ? "'" + text : text).replaceAll('"', '""')}"`;
  document.getElementById("save").addEventListener("click", () => {
    const week = weeks.find((one) => one.open) || current;
    const rows = [...week.querySelectorAll(".squad tr")].filter((row) => !row.hidden);
    const text = rows.map((row) => [...row.cells].map((cell) => safe(shown(cell))).join(",")).join("\r\n");
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob(["\ufeff" + text + "\r\n"], { type: "text/csv" }));
    link.download = `${week.id}.csv`;
    link.click();
    URL.revokeObjectURL(link.href);
  });
}
