{
  const now = new Date();
  const today = [now.getFullYear(), String(now.getMonth() + 1).padStart(2, "0"), String(now.getDate()).padStart(2, "0")].join("-");
  const weeks = [...document.querySelectorAll("details.week")];
  const current = weeks.find((week) => week.dataset.last >= today) || weeks[weeks.length - 1];
  weeks.forEach((week) => { week.open = week === current; });
  if (current.dataset.first <= today && today <= current.dataset.last) current.querySelector("summary h2").append(", this week");
  if (current !== weeks[0]) weeks[0].before(current);
  const filter = document.getElementById("filter");
  filter.addEventListener("input", () => {
    const part = filter.value.trim().toLowerCase();
    document.querySelectorAll("[data-name]").forEach((row) => { row.hidden = !row.dataset.name.toLowerCase().includes(part); });
  });
}
