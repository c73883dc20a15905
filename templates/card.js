{
  const choose = (markers) => { page.dataset.markers = markers; };
  document.querySelectorAll("[name=markers]").forEach((radio) => {
    radio.addEventListener("change", () => choose(radio.value));
    if (radio.checked) choose(radio.value);
  });
}
