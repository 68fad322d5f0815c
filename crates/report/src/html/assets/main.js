// Ties the report together: timeline, player, notes table.
const data = JSON.parse($("data").textContent);
const STATUS = ["played", "not heard", "at another pitch", "no verdict (legato)", "not reached"];
const KINDS = ["", "outside change", "inside change", "sweep", "change"];
const ms = (v) => (v > 0.05 ? v.toFixed(1) + " ms late" : v < -0.05 ? (-v).toFixed(1) + " ms early" : "0.0 ms");
const ringing = (v) => v.toFixed(0) + (v < data.shortest_ringing_ms + 0.05 ? " or less" : "");
const KEY = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
const pitch = (k) => KEY[k % 12] + (Math.floor(k / 12) - 1);

function about(i) {
  const n = data.notes;
  let s = `Note ${n.index[i] + 1}, repeat ${n.repeat[i] + 1}, step ${n.position[i] + 1}: string ${n.string[i]}, fret ${n.fret[i]} (${pitch(n.midi[i])})`;
  if (n.stroke[i]) s += `, ${n.stroke[i] === 1 ? "downstroke" : "upstroke"}`;
  if (n.from[i]) s += `, ${KINDS[n.kind[i]] || "change"} from string ${n.from[i]}`;
  s += `: ${STATUS[n.status[i]]}`;
  if (n.dev[i] !== null) s += ` at ${n.at[i].toFixed(4)} s, ${ms(n.dev[i])}` + (n.unc[i] !== null ? ` (+-${n.unc[i].toFixed(1)})` : "");
  if (n.heard[i] && n.heard[i] !== n.midi[i]) s += `, heard as ${pitch(n.heard[i])}`;
  if (n.smear[i] !== null) s += `, the string left rings on for ${ringing(n.smear[i])} ms`;
  return s + ".";
}

const byKey = new Map();
data.notes.index.forEach((index, i) => byKey.set(data.notes.pass[i] + ":" + index, i));
const rowOf = (pass, index) => byKey.get(pass + ":" + index) ?? -1;

let player = null, film = null;
const timeline = new Timeline($("timeline"), data, (i) => { $("about").textContent = about(i); film?.select(i); });

new MutationObserver(() => timeline.draw()).observe(document.documentElement, { attributeFilter: ["data-theme"] });
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => timeline.draw());
// Paper shows the whole take in dark ink, whatever the screen shows.
let onScreen = null;
window.addEventListener("beforeprint", () => {
  onScreen ??= timeline.view;
  timeline.view = [...timeline.home]; timeline.onPaper = true; timeline.paint();
});
window.addEventListener("afterprint", () => {
  if (onScreen) timeline.view = onScreen;
  onScreen = null; timeline.onPaper = false; timeline.draw();
});

for (const [id, act] of Object.entries({
  "zoom-in": () => timeline.zoom(0.6, (timeline.view[0] + timeline.view[1]) / 2),
  "zoom-out": () => timeline.zoom(1 / 0.6, (timeline.view[0] + timeline.view[1]) / 2),
  "earlier": () => timeline.pan(-0.5), "later": () => timeline.pan(0.5),
  "whole": () => { timeline.view = [...timeline.home]; timeline.draw(); },
})) $(id).addEventListener("click", act);

const audio = $("audio");
if (audio) {
  const sound = $("sound");
  if (sound) audio.src = Player.blobUrl(sound.textContent.trim(), sound.dataset.type);
  player = new Player(audio, data, (t) => { timeline.playhead = t; timeline.draw(); });
  $("play").addEventListener("click", () => { if (audio.paused) { player.loop = null; audio.play(); } else audio.pause(); });
  audio.addEventListener("play", () => { $("play").textContent = "Pause"; });
  audio.addEventListener("pause", () => { $("play").textContent = "Play"; });
  $("speed").addEventListener("change", (e) => player.speed(Number(e.target.value)));
  $("loop").addEventListener("change", (e) => {
    player.loopKind = e.target.value;
    player.loop = timeline.selected >= 0 && player.loopKind !== "off" ? player.range(timeline.selected) : null;
  });
  $("grid-click").addEventListener("change", (e) => { player.clicks = e.target.checked; });
  $("timeline").addEventListener("keydown", (e) => {
    if (e.key === "Enter" && timeline.selected >= 0) { player.around(timeline.selected); e.preventDefault(); }
    if (e.key === " ") { if (audio.paused) audio.play(); else audio.pause(); e.preventDefault(); }
  });
  $("timeline").addEventListener("dblclick", () => { if (timeline.selected >= 0) player.around(timeline.selected); });
  $("hear").addEventListener("click", () => { if (timeline.selected >= 0) player.around(timeline.selected); });
}

document.querySelectorAll("[data-notes]").forEach((b) => b.addEventListener("click", () => {
  const rows = b.dataset.notes.split(" ").map((k) => rowOf(...k.split(":").map(Number))).filter((i) => i >= 0);
  if (!rows.length) return;
  timeline.marked = new Set(rows);
  film?.list(rows);
  timeline.select(rows[0], rows.length === 1 || player !== null);
  if (rows.length > 1 && !player) { timeline.view = [...timeline.home]; timeline.draw(); }
  if (b.classList.contains("see")) audio?.pause();
  else if (player) player.around(rows[0]);
  $(b.classList.contains("see") ? "film" : "timeline").scrollIntoView({ block: "nearest" });
}));

// The notes as a table, a page at a time: twenty thousand rows at once would make the page heavy.
const PAGE = 200;
let page = 0;
function table() {
  const n = data.notes, body = $("note-rows"), rows = [];
  const from = page * PAGE, to = Math.min(n.at.length, from + PAGE);
  for (let i = from; i < to; i++) {
    const tr = document.createElement("tr");
    const change = n.from[i] ? `${n.from[i]} to ${n.string[i]}, ${KINDS[n.kind[i]] || "change"}` : "";
    for (const c of [n.index[i] + 1, n.pass[i] + 1, n.repeat[i] + 1, n.position[i] + 1, n.string[i], n.fret[i], ["", "down", "up"][n.stroke[i]], change,
      STATUS[n.status[i]], n.exp[i].toFixed(4), n.dev[i] === null ? "" : n.at[i].toFixed(4), n.dev[i] === null ? "" : n.dev[i].toFixed(1), n.unc[i] === null ? "" : n.unc[i].toFixed(1), n.smear[i] === null ? "" : ringing(n.smear[i])]) {
      const td = document.createElement("td");
      td.textContent = c;
      tr.append(td);
    }
    rows.push(tr);
  }
  body.replaceChildren(...rows);
  $("note-page").textContent = `notes ${n.at.length ? from + 1 : 0} to ${to} of ${n.at.length}`;
  $("note-back").disabled = page === 0;
  $("note-on").disabled = to >= n.at.length;
}
$("note-back").addEventListener("click", () => { page--; table(); });
$("note-on").addEventListener("click", () => { page++; table(); });
$("all-notes").addEventListener("toggle", () => { if ($("all-notes").open && !$("note-rows").children.length) table(); });
