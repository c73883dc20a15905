{
  const now = new Date();
  const today = [now.getFullYear(), String(now.getMonth() + 1).padStart(2, "0"), String(now.getDate()).padStart(2, "0")].join("-");
  const weeks = [...document.querySelectorAll("details.week")];
  const current = weeks.find((week) => week.dataset.last >= today) || weeks[weeks.length - 1];
  weeks.forEach((week) => { week.open = week === current; });
  const filter = document.getElementById("filter");
  filter.addEventListener("input", () => {
    const part = filter.value.trim().toLowerCase();
    document.querySelectorAll("[data-name]").forEach((row) => { row.hidden = !row.dataset.name.toLowerCase().includes(part); });
  });
}
