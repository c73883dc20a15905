"use strict";
const page = document.documentElement;
const shelf = {
  get(key) { try { return localStorage.getItem("planbuilder/" + key); } catch { return null; } },
  set(key, value) { try { localStorage.setItem("planbuilder/" + key, value); } catch { /* a private window keeps nothing */ } },
  drop(key) { try { localStorage.removeItem("planbuilder/" + key); } catch { /* nothing was kept */ } },
};
page.classList.add("js");
{
  const buttons = document.querySelectorAll(".units button");
  const show = (units) => {
    page.dataset.units = units;
    buttons.forEach((button) => button.setAttribute("aria-pressed", String(button.dataset.unit === units)));
  };
  show(shelf.get("units") || page.dataset.units);
  buttons.forEach((button) => button.addEventListener("click", () => {
    shelf.set("units", button.dataset.unit);
    show(button.dataset.unit);
  }));
}
