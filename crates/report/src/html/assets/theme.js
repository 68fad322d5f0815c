// Light or dark: the reader's system decides until the button is pressed.
const $ = (id) => document.getElementById(id);
{
  const root = document.documentElement, system = matchMedia("(prefers-color-scheme: dark)");
  const dark = () => (root.dataset.theme ? root.dataset.theme === "dark" : system.matches);
  const say = () => { $("theme").textContent = dark() ? "Light" : "Dark"; };
  const set = (next) => {
    root.dataset.theme = next;
    try { localStorage.setItem("takegauge-theme", next); } catch { /* a file opened from disk may have no storage */ }
    say();
  };
  try { const kept = localStorage.getItem("takegauge-theme"); if (kept === "dark" || kept === "light") set(kept); } catch { /* as above */ }
  say();
  $("theme").addEventListener("click", () => set(dark() ? "light" : "dark"));
  system.addEventListener("change", say);
}
