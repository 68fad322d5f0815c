// The line as tablature: click or press Enter to hear and see a note; one time of the line instead of the average.
const line = $("tab-line");
if (line) {
  const n = data.notes, reach = Number(line.dataset.reach), steps = [...line.querySelectorAll(".note")];
  const averaged = steps.map((g) => g.outerHTML);
  const chosen = $("tab-time");
  const times = [...new Set(n.pass.map((pass, i) => pass + ":" + n.repeat[i]))];
  const passes = new Set(n.pass).size;
  for (const t of times) {
    const [pass, repeat] = t.split(":").map(Number);
    chosen.append(new Option((passes > 1 ? `pass ${pass + 1}, ` : "") + `time ${repeat + 1}`, t));
  }
  // The rows of a step, in the order played; of the chosen time alone where one is chosen.
  const rows = (step) => n.position.flatMap((p, i) => (p === step && (!chosen.value || chosen.value === n.pass[i] + ":" + n.repeat[i]) ? [i] : []));

  const one = (g) => {
    const i = rows(Number(g.dataset.step))[0], dev = i === undefined ? null : n.dev[i];
    const words = i === undefined ? "Not reached this time." : about(i);
    g.querySelector(".key").setAttribute("aria-label", words);
    g.querySelector("title").textContent = words;
    g.classList.toggle("late", dev !== null && dev >= 0.5);
    g.classList.toggle("early", dev !== null && dev <= -0.5);
    const size = dev === null ? 0 : Math.max(-1, Math.min(1, dev / reach));
    g.querySelector(".tint").setAttribute("fill-opacity", (0.5 * Math.abs(size)).toFixed(2));
    g.querySelector(".ms").textContent = dev === null ? "" : Math.abs(dev) < 0.5 ? "0" : (dev > 0 ? "+" : "") + dev.toFixed(0);
    const bar = g.querySelector(".bar"), x = Number(g.querySelector(".fret").getAttribute("x"));
    if (bar) {
      const width = size * 15;
      bar.setAttribute("x", x + Math.min(0, width));
      bar.setAttribute("width", Math.abs(width));
    }
    for (const [mark, status] of [[".cross", 1], [".ring", 2]]) {
      const drawn = g.querySelector(mark);
      if (drawn) drawn.style.display = i !== undefined && n.status[i] === status ? "" : "none";
    }
  };
  const hear = (g) => {
    const all = rows(Number(g.dataset.step));
    if (!all.length) return;
    timeline.marked = new Set(all);
    timeline.select(all[0], all.length === 1 || player !== null);
    if (player) player.around(all[0]);
  };
  const wire = () => line.querySelectorAll(".note").forEach((g) => g.addEventListener("click", () => hear(g)));
  wire();
  chosen.addEventListener("change", () => {
    if (chosen.value) { line.querySelectorAll(".note").forEach(one); return; }
    line.querySelectorAll(".note").forEach((g, k) => { g.outerHTML = averaged[k]; });
    wire();
  });
  line.addEventListener("keydown", (e) => {
    const all = [...line.querySelectorAll(".key")], k = all.indexOf(document.activeElement);
    if (k < 0) return;
    if (e.key === "Enter" || e.key === " ") { hear(all[k].parentNode); e.preventDefault(); return; }
    const to = { ArrowRight: k + 1, ArrowLeft: k - 1, Home: 0, End: all.length - 1 }[e.key];
    if (to === undefined || !all[to]) return;
    all[k].setAttribute("tabindex", "-1");
    all[to].setAttribute("tabindex", "0");
    all[to].focus();
    e.preventDefault();
  });
}
