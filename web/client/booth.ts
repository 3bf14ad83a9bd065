// Keys for the three answers. The page works without any of this.
const form = document.querySelector<HTMLFormElement>("main form");
if (form) {
  let sent = false;
  form.addEventListener("submit", (e) => {
    if (sent) e.preventDefault(); // one press, one vote
    sent = true;
    form.setAttribute("aria-busy", "true");
  });
  window.addEventListener("pageshow", (e) => {
    if (!e.persisted) return;
    sent = false; // come back by the browser's own button
    form.removeAttribute("aria-busy");
  });
  window.addEventListener("keydown", (e) => {
    if (e.repeat || e.altKey || e.ctrlKey || e.metaKey || e.shiftKey) return;
    // Space on something that has a use for it keeps that use.
    if (e.key === " " && document.activeElement?.matches("a, button, summary, input")) return;
    for (const b of form.querySelectorAll<HTMLButtonElement>("button[data-key]")) {
      if (b.dataset.key !== e.key) continue;
      e.preventDefault();
      form.requestSubmit(b);
      return;
    }
  });
}
