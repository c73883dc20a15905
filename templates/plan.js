{
  const store = page.dataset.store + "/";
  const now = new Date();
  const iso = (date) => [date.getFullYear(), String(date.getMonth() + 1).padStart(2, "0"), String(date.getDate()).padStart(2, "0")].join("-");
  const today = iso(now);
  const daysFrom = (date) => Math.round((Date.parse(date) - Date.parse(today)) / 864e5);

  const toGo = document.querySelector(".to-go");
  if (toGo) {
    const days = daysFrom(toGo.dataset.race);
    toGo.textContent = days > 1 ? days + " days to go" : days === 1 ? "tomorrow" : days === 0 ? "today" : "";
    toGo.hidden = days < 0;
  }

  const sessions = [...document.querySelectorAll(".session")];
  const buttons = document.getElementById("marks").content;
  sessions.forEach((session) => {
    session.dataset.id = session.id;
    if (!("off" in session.dataset)) session.append(buttons.cloneNode(true));
  });
  const next = sessions.find((session) => session.dataset.date >= today && !("off" in session.dataset));
  const place = document.getElementById("next");
  if (next) {
    const days = daysFrom(next.dataset.date);
    const day = next.querySelector("time").textContent;
    const begun = sessions[0].dataset.date <= today;
    const resting = days > 0 && begun;
    const heading = place.querySelector("h2");
    heading.textContent = days === 0 || resting ? "Today" : days === 1 ? "Tomorrow" : "Next: " + day;
    place.querySelector(".rest").hidden = !resting;
    place.querySelector(".waiting").hidden = begun;
    if (resting) {
      const link = document.createElement("a");
      link.href = "#" + next.id;
      link.textContent = next.querySelector("h4").textContent;
      place.querySelector(".coming").append(days === 1 ? "Tomorrow: " : day + ": ", link, ", ", ...next.querySelector(".size").cloneNode(true).childNodes);
    }
    sessions.filter((session) => !resting && session.dataset.date === next.dataset.date && !("off" in session.dataset)).forEach((session) => {
      const copy = session.cloneNode(true);
      copy.removeAttribute("id");
      const title = copy.querySelector("h4");
      const large = document.createElement("h3");
      large.append(...title.childNodes);
      title.replaceWith(large);
      place.append(copy);
    });
    place.hidden = false;
  } else {
    place.querySelector("h2").textContent = "After the race";
    place.querySelector(".over").hidden = false;
    place.hidden = false;
  }
  const sinceRace = -daysFrom(toGo.dataset.race);
  const wanted = document.querySelector(`.ways [data-from="${Math.sign(sinceRace)}"]`);
  if (wanted) {
    const line = document.createElement("p");
    line.className = "goto";
    line.append(wanted.cloneNode(true));
    place.querySelector("h2").after(line);
  }
  const weeks = [...document.querySelectorAll("details.week")];
  const thisWeek = weeks.findIndex((week) => week.dataset.last >= today);
  weeks.forEach((week, number) => { week.open = thisWeek >= 0 && (number === thisWeek || number === thisWeek + 1); });
  document.querySelectorAll(".glance tbody").forEach((week) => {
    if (week.dataset.first <= today && today <= week.dataset.last) week.querySelector("th").setAttribute("aria-current", "date");
  });
  const opened = (id) => { const at = id && document.getElementById(id); const outer = at && at.closest("details"); if (outer) { outer.open = true; at.scrollIntoView(); } };
  addEventListener("hashchange", () => opened(decodeURIComponent(location.hash.slice(1))));
  opened(decodeURIComponent(location.hash.slice(1)));

  let closed = [];
  addEventListener("beforeprint", () => { closed = [...document.querySelectorAll("details.week:not([open])")]; closed.forEach((week) => { week.open = true; }); });
  addEventListener("afterprint", () => { closed.forEach((week) => { week.open = false; }); });

  const wall = document.getElementById("print-wall");
  if (wall) {
    wall.parentElement.hidden = false;
    wall.addEventListener("click", () => { page.classList.add("wall-alone"); print(); });
    addEventListener("afterprint", () => page.classList.remove("wall-alone"));
  }

  const marks = () => document.querySelectorAll(".session").forEach((session) => {
    const mark = shelf.get(store + session.dataset.id);
    const tick = session.querySelector(".tick");
    if (tick) tick.checked = mark === "done";
    session.dataset.mark = mark || "";
  });
  const mark = (id, value) => { value ? shelf.set(store + id, value) : shelf.drop(store + id); marks(); };
  marks();
  document.querySelectorAll(".tick").forEach((tick) => tick.addEventListener("change", () => mark(tick.closest(".session").dataset.id, tick.checked ? "done" : "")));

  const tell = document.getElementById("tell");
  const form = tell.querySelector("form");
  const line = document.getElementById("tell-line");
  const said = document.getElementById("tell-said");
  let current = null;
  const plain = (text) => text.replace(/[|\s]+/g, " ").trim();
  const timed = () => "timed" in current.dataset && form.went.value === "done";
  const write = () => {
    const parts = [plain(form.dataset.runner), current.dataset.id, form.went.value];
    if (form.effort.value !== "" && form.went.value !== "missed") parts.push("effort " + Number(form.effort.value));
    if (timed() && form.time.value.trim() && form.time.validity.valid) parts.push("time " + form.time.value.trim() + (current.dataset.timed && " over " + current.dataset.timed));
    parts.push(form.date.value);
    if (form.hurts.checked && form.pain.value !== "") parts.push("pain " + Number(form.pain.value) + (plain(form.where.value) ? " " + plain(form.where.value) : ""));
    if (plain(form.word.value)) parts.push(plain(form.word.value));
    line.textContent = parts.join(" | ");
    document.getElementById("tell-pain").hidden = !form.hurts.checked;
    document.getElementById("tell-timed").hidden = !timed();
    document.getElementById("tell-over").textContent = current.dataset.timed ? "Time of the " + current.dataset.timed + " alone" : "Finish time";
  };
  document.querySelectorAll(".tell").forEach((button) => button.addEventListener("click", () => {
    current = button.closest(".session");
    form.reset();
    form.date.value = current.dataset.date;
    document.getElementById("tell-what").textContent = current.querySelector("h3, h4").textContent + ", " + current.querySelector("time").textContent;
    said.textContent = "";
    write();
    tell.showModal();
  }));
  form.addEventListener("input", write);
  document.getElementById("tell-send").addEventListener("click", async () => {
    if (!form.reportValidity()) return;
    mark(current.dataset.id, form.went.value);
    const text = line.textContent;
    try {
      if (navigator.share) { await navigator.share({ text }); said.textContent = "Handed on."; return; }
      await navigator.clipboard.writeText(text);
      said.textContent = "Copied. Paste it into the chat with your coach.";
    } catch (trouble) {
      if (trouble.name === "AbortError") return;
      getSelection().selectAllChildren(line);
      said.textContent = "Marked here. Copy the line above and send it.";
    }
  });
}
