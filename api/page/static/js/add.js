// A serial is read twice. A pasted copy of the first reading says nothing, so the
// second is typed, from the photo or the tool.
"use strict";
(() => {
  const box = document.querySelector("[data-again]");
  const field = box && box.querySelector("input");
  if (!field) return;
  const told = document.createElement("p");
  told.className = "error"; told.setAttribute("role", "status");
  box.append(told);
  for (const way of ["paste", "drop"]) {
    field.addEventListener(way, (e) => { e.preventDefault(); told.textContent = box.dataset.again; });
  }
  field.addEventListener("input", () => { told.textContent = ""; });
})();
