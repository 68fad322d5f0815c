/**
 * Runs in the page before its own scripts. Where the page connects its microphone, a delay line of `delay` seconds is
 * connected instead: while the delay is measured it carries the page's click, as a cable would; while a take is recorded
 * it carries `take` (a WAV file in base64), played so that what lies `first` seconds after its start sounds `late`
 * seconds after the drill's first step. `refuse` names an error that the microphone gives, `on` what the browser is to
 * report as still switched on.
 */
export function looped({ delay, late, first, take, refuse, on = [] }) {
  const { connect } = AudioNode.prototype, { start } = AudioBufferSourceNode.prototype, { getSettings } = MediaStreamTrack.prototype;
  let context, line, guitar = null, stepAt = null;
  if (refuse) navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("refused by the test", refuse));
  MediaStreamTrack.prototype.getSettings = function () {
    return { ...getSettings.call(this), ...Object.fromEntries(on.map((k) => [k, true])) };
  };
  AudioContext.prototype.createMediaStreamSource = function () {
    context = this;
    line = new DelayNode(context, { delayTime: delay, maxDelayTime: 1 });
    if (take) context.decodeAudioData(Uint8Array.from(atob(take), (c) => c.charCodeAt(0)).buffer).then((sound) => { guitar = sound; });
    return line;
  };
  const fetched = window.fetch;
  window.fetch = async (address, ...rest) => {
    const answer = await fetched(address, ...rest);
    if (String(address).startsWith("/clicks?")) stepAt = Number(answer.headers.get("x-takegauge-first-step-s"));
    if (String(address).startsWith("/record/loopback.wav")) stepAt = null;
    return answer;
  };
  AudioBufferSourceNode.prototype.start = function (at, ...rest) {
    if (stepAt === null) connect.call(this, line);
    else {
      const player = new AudioBufferSourceNode(context, { buffer: guitar });
      connect.call(player, line);
      start.call(player, at + stepAt + late - first);
      this.addEventListener("ended", () => player.stop());
    }
    return start.call(this, at, ...rest);
  };
}
