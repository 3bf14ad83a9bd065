// The marked entry of the menu is brought into sight where the menu is wider than the
// screen. Light or dark at a touch: the same form, sent without leaving the page.
export function looks(): void {
  document.querySelector(".top nav [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
  const form = document.querySelector<HTMLFormElement>("form.looks");
  form?.addEventListener("submit", async (e) => {
    const button = (e as SubmitEvent).submitter;
    if (!(button instanceof HTMLButtonElement)) return;
    e.preventDefault();
    if (button.value === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = button.value;
    for (const b of form.querySelectorAll("button")) b.setAttribute("aria-pressed", String(b === button));
    await fetch(form.action, { method: "POST", body: new URLSearchParams({ theme: button.value, back: "/about" }), redirect: "manual" }).catch(() => undefined);
  });
}
