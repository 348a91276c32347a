// The sheet's colours and the reader's unit: set before anything is painted, kept in cookies.
(() => {
  const read = (name) => document.cookie.split("; ").find((c) => c.startsWith(`${name}=`))?.slice(name.length + 1);
  const keep = (name, value) => {
    document.cookie = `${name}=${value}; Path=/; Max-Age=31536000; SameSite=Strict`;
  };
  const preferred = () => (matchMedia("(prefers-color-scheme: dark)").matches ? "slate" : "white");
  const theme = () => (["white", "slate"].includes(read("wellheard-theme")) ? read("wellheard-theme") : preferred());
  const unit = () => {
    const chosen = read("wellheard-unit") ?? document.querySelector("[data-usual]")?.dataset.usual;
    return chosen === "ft" ? "ft" : "m";
  };

  globalThis.wellheardUnit = unit;

  const show = () => {
    document.documentElement.classList.toggle("slate", theme() === "slate");
    for (const button of document.querySelectorAll("[data-theme]")) {
      button.setAttribute("aria-pressed", String(button.dataset.theme === theme()));
    }
    for (const button of document.querySelectorAll("[data-unit]")) {
      button.setAttribute("aria-pressed", String(button.dataset.unit === unit()));
    }
  };

  document.addEventListener("click", (event) => {
    const pressed = event.target.closest?.("[data-theme], [data-unit]");
    if (!pressed) return;
    if (pressed.dataset.theme) {
      keep("wellheard-theme", pressed.dataset.theme);
      show();
      dispatchEvent(new CustomEvent("wellheard:theme", { detail: theme() }));
    } else if (pressed.dataset.unit !== unit()) {
      keep("wellheard-unit", pressed.dataset.unit);
      show();
      // A page that can change its unit in place says so; any other is asked for again.
      if (dispatchEvent(new CustomEvent("wellheard:unit", { detail: unit(), cancelable: true }))) location.reload();
    }
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", show);
  // The top line is made after this has run; nothing is watched once it is there.
  const watch = new MutationObserver(() => {
    if (!document.querySelector("[data-theme]")) return;
    watch.disconnect();
    show();
  });
  watch.observe(document, { childList: true, subtree: true });
  show();
})();
