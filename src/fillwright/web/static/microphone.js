// Recording a take with the browser's microphone (W3C Media Capture, Web Audio), as a WAV file.

import { h } from "./dom.js";
import { player } from "./player.js";
import { t } from "./words.js";

const MOST_SEC = 1200; // as the server takes it
// What is done for voices spoils a piano.
const PLAIN = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };

const WHY = { NotFoundError: "microphone.none", NotAllowedError: "microphone.not_allowed" };

export class Microphone {
  // done(blob, name): a recording is there
  constructor(done) {
    this.done = done;
    this.says = h("p", { class: "microphone-says", role: "status" });
    this.level = h("meter", { min: "0", max: "1", low: "0.02", high: "0.9", optimum: "0.4", value: "0", "aria-label": t("microphone.level") });
    this.start = h("button", { type: "button", class: "microphone-start", "aria-pressed": "false", onclick: () => this.toggle() });
    this.element = h("div", { class: "take-microphone" }, h("h3", {}, t("microphone.head")), h("p", { class: "quiet" }, t("microphone.how")), h("div", { class: "row" }, this.start, this.level), this.says);
    this.#show();
  }

  // listens: whether recordings can be heard here
  allow(listens) {
    this.listens = listens;
    this.element.hidden = !listens; // why stands where a take is brought
    this.#show();
  }

  #show() {
    this.start.textContent = t(this.run ? "microphone.stop" : "microphone.start");
    this.start.setAttribute("aria-pressed", String(Boolean(this.run)));
    this.start.disabled = !this.listens;
    this.level.hidden = !this.run;
    if (!this.run) this.level.value = 0;
  }

  #say(words) {
    this.says.textContent = words;
  }

  toggle() {
    if (this.run) this.stop();
    else this.#start();
  }

  async #start() {
    if (!navigator.mediaDevices?.getUserMedia) {
      this.#say(t("microphone.not_secure"));
      return;
    }
    const run = (this.run = { parts: [], count: 0 });
    player.stop();
    this.#show();
    this.#say(t("microphone.asking"));
    try {
      run.stream = await navigator.mediaDevices.getUserMedia({ audio: PLAIN });
      run.context = new AudioContext();
      await run.context.audioWorklet.addModule(new URL("capture.js", import.meta.url));
      const source = run.context.createMediaStreamSource(run.stream);
      run.node = new AudioWorkletNode(run.context, "capture", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
      run.node.port.onmessage = ({ data }) => this.#heard(run, data);
      source.connect(run.node);
      if (this.run !== run) this.#ended(run);
      else this.#say(t("microphone.recording", { seconds: 0 }));
    } catch (error) {
      this.#ended(run);
      this.#say(t(WHY[error.name] ?? "microphone.trouble"));
    }
  }

  #heard(run, samples) {
    if (this.run !== run) return;
    run.parts.push(samples);
    run.count += samples.length;
    let peak = 0;
    for (const sample of samples) peak = Math.max(peak, Math.abs(sample));
    this.level.value = Math.max(peak, this.level.value * 0.8);
    const seconds = Math.floor(run.count / run.context.sampleRate);
    if (seconds !== run.seconds) this.#say(t("microphone.recording", { seconds }));
    run.seconds = seconds;
    if (seconds >= MOST_SEC) this.stop();
  }

  async stop(run = this.run) {
    if (!run || this.run !== run) return;
    const rate = run.context?.sampleRate;
    this.#ended(run);
    if (!run.count) {
      this.#say(t("microphone.nothing"));
      return;
    }
    this.#say("");
    const now = new Date();
    const two = (number) => String(number).padStart(2, "0");
    const name = t("record.name", { date: `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())} ${two(now.getHours())}.${two(now.getMinutes())}` });
    await this.done(wav(run.parts, run.count, rate), `${name}.wav`);
  }

  #ended(run) {
    if (this.run === run) this.run = null;
    run.node?.port.close();
    for (const track of run.stream?.getTracks() ?? []) track.stop();
    run.context?.close();
    this.#show();
  }
}

// One channel, 16 bits (Multimedia Programming Interface and Data Specifications 1.0, RIFF WAVE).
function wav(parts, count, rate) {
  const view = new DataView(new ArrayBuffer(44 + 2 * count));
  const text = (at, letters) => [...letters].forEach((letter, index) => view.setUint8(at + index, letter.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + 2 * count, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, 2 * rate, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, 2 * count, true);
  let at = 44;
  for (const part of parts) {
    for (const sample of part) {
      view.setInt16(at, Math.round(32767 * Math.max(-1, Math.min(1, sample))), true);
      at += 2;
    }
  }
  return new Blob([view], { type: "audio/wav" });
}
