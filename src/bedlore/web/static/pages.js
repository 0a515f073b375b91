// Makes the pages quicker under wet thumbs. Everything works without it.
"use strict";
document.documentElement.classList.add("js");

// Steppers: count on the spot instead of asking the server.
document.addEventListener("click", (event) => {
  const button = event.target.closest("button[name=step]");
  if (!button || !button.form) return;
  const [name, size] = button.value.split(":");
  const field = button.form.elements[name];
  const now = Number(String(field.value || "0").replace(",", "."));
  if (!field || Number.isNaN(now)) return;
  event.preventDefault();
  field.value = String(Number((now + Number(size)).toFixed(3)));
});

// Ghost taps: one form is sent once; a second tap within a moment is not a second entry.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sent && Date.now() - Number(form.dataset.sent) < 3000) event.preventDefault();
  else form.dataset.sent = String(Date.now());
});

// "Another time" opens its field.
const showTimes = () => {
  for (const box of document.querySelectorAll(".other")) {
    const chosen = box.closest("fieldset").querySelector("input[name=when]:checked");
    box.classList.toggle("wanted", Boolean(chosen) && chosen.value === "other");
  }
};
document.addEventListener("change", showTimes);
showTimes();
