// The pianos that are connected to this computer, by Web MIDI (W3C).

import { h } from "./dom.js";
import { t } from "./words.js";

const KINDS = [0x80, 0x90, 0xb0]; // a key goes up or down, a pedal is moved

const KEPT = "fillwright-piano-port";

class Ports {
  // onchange(): a piano comes or goes; onmessage({port, data, timeStamp})
  constructor(onchange, onmessage) {
    this.onchange = onchange;
    this.onmessage = onmessage;
    this.access = null;
  }

  get isOpen() {
    return this.access !== null;
  }

  get inputs() {
    return this.access ? [...this.access.inputs.values()].filter(({ state }) => state !== "disconnected") : [];
  }

  // Ask for them; says what stands in the way, else null.
  async open() {
    if (!navigator.requestMIDIAccess) return isSecureContext ? "no_midi" : "not_secure";
    try {
      this.access = await navigator.requestMIDIAccess({ sysex: false });
    } catch (error) {
      return error.name === "NotSupportedError" ? "no_midi" : "not_allowed";
    }
    this.access.addEventListener("statechange", () => {
      this.#listen();
      this.onchange();
    });
    this.#listen();
    return null;
  }

  #listen() {
    for (const input of this.inputs) {
      input.onmidimessage = ({ data, timeStamp }) => {
        if (KINDS.includes(data[0] & 0xf0)) this.onmessage({ port: input.id, data: [...data], timeStamp });
      };
    }
  }
}

// A button that connects pianos, and the choice of one of them, which is kept in the browser.
export class PianoChoice {
  // changed(): a piano came, went or was chosen; connected(): after the button there is one;
  // heard(message) of the chosen one, or of any; say(words): what stands in the way
  constructor({ changed, connected, heard, say }) {
    Object.assign(this, { changed, connected, say });
    this.ports = new Ports(() => this.show(), (message) => {
      if (!this.port.value || this.port.value === message.port) heard(message);
    });
    this.button = h("button", { type: "button", onclick: () => this.connect() }, t("record.connect"));
    this.port = h("select", { "aria-label": t("record.port"), onchange: () => { localStorage.setItem(KEPT, this.port.value); this.show(); } });
  }

  get isOpen() {
    return this.ports.isOpen;
  }

  get isReady() {
    return this.isOpen && this.ports.inputs.length > 0;
  }

  async connect() {
    const refused = await this.ports.open();
    if (refused) this.say(t(`record.${refused}`));
    this.show();
    if (this.isReady) this.connected();
  }

  show() {
    const { inputs } = this.ports;
    this.button.hidden = this.isOpen;
    const wanted = localStorage.getItem(KEPT);
    const chosen = inputs.some(({ id }) => id === wanted) ? wanted : "";
    this.port.replaceChildren(h("option", { value: "" }, t("record.any")), ...inputs.map(({ id, name }) => h("option", { value: id, selected: id === chosen }, name || id)));
    if (this.isOpen && !inputs.length) this.say(t("record.no_piano"));
    this.changed();
  }
}
