"use strict";
// Sends a dropped recording to be scored, and a dropped drill file to be offered in the list.
(() => {
  const $ = (id) => document.getElementById(id);
  const token = document.querySelector("meta[name=token]").content;
  const limit = Number($("send").dataset.limit);
  const drop = $("drop"), said = $("said"), sent = $("sent");

  function say(text, wrong) {
    said.textContent = text;
    said.classList.toggle("wrong", Boolean(wrong));
  }

  /** The sentence in an error page. */
  const sentence = (html) => new DOMParser().parseFromString(html, "text/html").querySelector("main p")?.textContent ?? "It did not work.";

  async function sendDrill(file) {
    if (file.size > 100000) return say("A drill file is a short text; this one is too long.", true);
    const answer = await fetch("/drills", { method: "POST", body: await file.text(), headers: { "x-takegauge-token": token } });
    if (!answer.ok) return say(sentence(await answer.text()), true);
    const { drill, name } = await answer.json();
    $("drill").prepend(new Option(name + " (sent here)", drill, true, true));
    say(`Drill "${name}" is chosen. Now drop the recording.`);
  }

  function sendTake(file) {
    if (file.size > limit) return say(`The recording is larger than ${Math.floor(limit / 1e6)} MB. Cut it, save it as FLAC, or start with a larger --upload-limit-mb.`, true);
    if (!$("tempo").checkValidity()) return say("A tempo is 20 to 400 quarter notes a minute.", true);
    const about = new URLSearchParams({ name: file.name, drill: $("drill").value, tempo: $("tempo").value, first: $("first").value, recorded_ms: String(file.lastModified) });
    const request = new XMLHttpRequest();
    request.open("POST", "/uploads?" + about);
    request.setRequestHeader("x-takegauge-token", token);
    request.upload.addEventListener("progress", (e) => { if (e.lengthComputable) sent.value = e.loaded / e.total; });
    request.addEventListener("load", () => {
      sent.hidden = true;
      if (request.status === 201) location.href = request.getResponseHeader("location");
      else say(sentence(request.responseText), true);
    });
    request.addEventListener("error", () => { sent.hidden = true; say("The program does not answer. Is it still running?", true); });
    sent.hidden = false;
    say(`${file.name} is coming in.`);
    request.send(file);
  }

  async function take(files) {
    const drills = files.filter((f) => /\.toml$/i.test(f.name)), takes = files.filter((f) => !drills.includes(f));
    if (takes.length > 1) return say("One recording at a time, please.", true);
    for (const d of drills) await sendDrill(d);
    if (takes.length && !said.classList.contains("wrong")) sendTake(takes[0]);
  }

  $("send").addEventListener("submit", (e) => e.preventDefault());
  $("file").addEventListener("change", (e) => { say(""); take([...e.target.files]); e.target.value = ""; });
  // The whole window takes the drop, so that a near miss does not open the file instead.
  addEventListener("dragover", (e) => { e.preventDefault(); drop.classList.add("over"); });
  addEventListener("dragleave", (e) => { if (!e.relatedTarget) drop.classList.remove("over"); });
  addEventListener("drop", (e) => { e.preventDefault(); drop.classList.remove("over"); say(""); take([...e.dataTransfer.files]); });
})();
